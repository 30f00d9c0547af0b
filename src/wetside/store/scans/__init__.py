"""Scans on disk: which files a folder holds, pixels in and pixels out."""
