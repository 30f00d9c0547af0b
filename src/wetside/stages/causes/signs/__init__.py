"""Signs: what the scans show of faults, as marks, casts, bands and repeats."""
