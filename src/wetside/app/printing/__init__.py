"""Positives: what is taken out, the recipe of a roll, frames printed by one or many, the print room, what is handed over."""
