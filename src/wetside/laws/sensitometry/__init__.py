"""Density, exposure, characteristic curves, speed, control limits."""
