"""Home, laboratory or wait: what the plan asks, and what it answers."""
