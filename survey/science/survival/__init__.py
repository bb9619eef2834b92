"""Survival from ages that are known exactly, between two looks, or only to be still to come."""
