"""Road extracts, and the times, miles and shapes between places."""
