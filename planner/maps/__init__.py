"""The map of the day."""
