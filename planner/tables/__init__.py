"""Workbooks: reading tables, checking them, building the day."""
