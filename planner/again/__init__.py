"""A day planned again while it runs: what is done stays, only the rest is planned."""
