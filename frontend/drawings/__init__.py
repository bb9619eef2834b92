"""The drawing language: pure functions that return SVG text. No Django, no files, no clock.

Everything is drawn with one pen (`pen`), on the same ground line, with at most one mark. The same
arguments always give the same bytes: the hand's wobble is seeded by the drawing's name.
"""
