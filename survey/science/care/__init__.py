"""Doses: how much of each kind of care, worked line by line, or why none is given."""
