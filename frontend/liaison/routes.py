"""Addresses of these pages."""

routes = []
