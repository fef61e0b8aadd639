"""A truck's day as arrays: prices and refill stops, for the search and for Python."""
