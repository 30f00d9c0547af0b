"""Control of the process from strips: aim, departures, limits, charts, and what to do next."""
