"""The packet: mix sheets, route sheets, day page and pick list."""
