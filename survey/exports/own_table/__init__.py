"""Survival from somebody's own table: a file comes in, an answer goes out, nothing is kept.

`columns` knows the three kinds of table and which column is which; `cells` reads one cell;
`gather` turns rows into lives and names every row that cannot be; `answer` works the figures out.
"""
