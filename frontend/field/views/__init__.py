"""Pages about what stands where, and forms for those who walk there."""
