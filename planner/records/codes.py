"""Codes of what is wrong in an actuals sheet, or with the plan that it is for."""

from typing import Final

LEVEL_CODES: Final = frozenset({"REC-6", "REC-7", "REC-13"})
"""What follows from all records of a truck together."""

CONFIRMABLE: Final = frozenset({"REC-5", "REC-6", "REC-7", "REC-8", "REC-9", "REC-11", "REC-13"})
"""Codes that a row with `sure` = yes and a note in words is recorded with."""
