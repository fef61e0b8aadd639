"""Orders that are not served: why, and what would make room for them."""
