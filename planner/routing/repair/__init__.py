"""A plan in the making: orders put in, moved and taken out, exactly priced."""
