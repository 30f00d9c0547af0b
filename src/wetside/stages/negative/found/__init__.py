"""The film found in scans: its base, its perforations, the pictures on it and their lengths."""
