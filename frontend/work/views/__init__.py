"""Pages about work orders."""
