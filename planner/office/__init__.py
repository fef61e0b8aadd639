"""The open day: one plan on the table, changed by several people, with every step kept. No HTTP."""
