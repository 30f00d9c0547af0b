"""What to have looked at before the first pour; one tap each, skippable, recorded."""

from __future__ import annotations

PREFLIGHT: tuple[tuple[str, str], ...] = (
    ("bottles", "Bottles stand in the order of the steps, labels to the front"),
    ("stop", "The next bath after the developer is open and within reach"),
    ("temperature", "Developer and tank are at temperature, read with the usual thermometer"),
    ("thermometer", "The thermometer was compared with another one this year"),
    ("lid", "Lid and its seal are on"),
    ("film", "It is written down which roll is on which reel, and which end is at the core"),
    ("edge", "It is known which edge of the film the first pour meets"),
    ("gloves", "Gloves and goggles on, window open"),
)
