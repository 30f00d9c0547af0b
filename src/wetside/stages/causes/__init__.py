"""Marks, casts and patterns: what made them, and the cheapest next test."""
