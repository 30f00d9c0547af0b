"""Control charts, circular statistics, robust fits and their spreads."""
