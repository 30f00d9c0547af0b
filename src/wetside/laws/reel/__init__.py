"""Film as a length: gauges, perforations, and where a place on it lay on a spiral reel."""
