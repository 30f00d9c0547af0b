"""The wet side: bottles, mixing, runs of the bench, and what the book knows of a tank's heat."""
