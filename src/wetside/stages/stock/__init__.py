"""What a stock can do: curve, speed, working exposure index, crossover, filters."""
