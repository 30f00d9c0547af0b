"""Chemistry of the baths: processes as data, mixing, hydrates, capacity by area, keeping."""
