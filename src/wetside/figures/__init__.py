"""What a number is: value, spread, unit and source; findings, rungs, places; the types stages share."""
