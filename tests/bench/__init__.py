"""Scripts that measure; nothing here is a test, and nothing asserts on a clock."""
