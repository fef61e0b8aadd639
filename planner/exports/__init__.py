"""The day in open formats for other programs: CSV, GeoJSON, GPX and iCalendar."""
