"""A folder of scans in, a roll's reading out: files, lengths and strips, how the film lies, what a light shows."""
