"""The pages of a neighbor."""
