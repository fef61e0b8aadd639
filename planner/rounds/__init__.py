"""Rounds of a season: where each property stands in its programs, and the orders that follow."""
