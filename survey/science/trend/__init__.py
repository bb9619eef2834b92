"""Does a place go up or down: trends, steps and turns in what rounds of looks found."""
