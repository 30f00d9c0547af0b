"""The only door to disk and clock: the book on SQLite, scans and their proxies, settings."""
