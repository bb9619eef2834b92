"""The public page that works out survival from somebody's own table, and keeps nothing of it."""
