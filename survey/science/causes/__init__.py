"""Tells causes apart: weighed clues in, words out, and the question that would settle most."""
