"""Ranking: what made the signs, how sure, and what to do to know better."""
