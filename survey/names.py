"""Short names for rows, never used again. Standard library only: migrations use it."""

import secrets

LETTERS = "23456789bcdfghjkmnpqrstvwxz"


def new_ref() -> str:
    """Eight letters without vowels or look-alikes: 27 to the 8th is 280 thousand million."""
    return "".join(secrets.choice(LETTERS) for _ in range(8))
