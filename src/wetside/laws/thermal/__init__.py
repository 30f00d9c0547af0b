"""Heat of liquid, tank and room, and what a temperature does to a development."""
