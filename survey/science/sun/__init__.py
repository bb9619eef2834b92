"""What the sun does to a trunk: where it stands, what each side gets, and how warm bark becomes."""
