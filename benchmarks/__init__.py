"""Ratios of speed and studies of quality. `python -m benchmarks` prints the ratios, taken in one run."""
