"""Numbers in the Spanish of the United States and Mexico: 1,234.5, unlike in Spain."""

DECIMAL_SEPARATOR = "."
THOUSAND_SEPARATOR = ","
