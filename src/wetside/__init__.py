"""wetside: from a folder of scans and a book of what was done to the next roll that behaves."""

__version__ = "0.1.0"
