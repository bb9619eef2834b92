"""Bark that a trunk has lost: how far round, what that means, and how wounds close."""
