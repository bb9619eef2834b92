"""Builds the invented demo towns: their plan is in fixtures/demo, their lives fall by seed."""
