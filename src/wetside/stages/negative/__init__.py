"""The negative read as a densitometer would."""
