"""Daily route and tank-mix planner for lawn-spray crews."""

__version__ = "0.1.0"
