"""Two weeks ahead: for now from past years alone."""
