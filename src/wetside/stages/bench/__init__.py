"""A run at the sink: the sheet before, the clock during, the record after."""
