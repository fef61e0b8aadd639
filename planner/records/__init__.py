"""What was really done: an append-only store in one file, and what comes out of it."""
