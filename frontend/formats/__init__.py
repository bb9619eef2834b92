"""How numbers are written, where this differs from what Django takes for a language."""
