"""Weeks: which open order on which day and truck, so that the money of all the days is least."""
