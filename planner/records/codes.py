"""Codes of what is wrong in an actuals sheet, or with the plan that it is for."""

from __future__ import annotations

from typing import Final

RECORD_CODES: Final = {
    "REC-1": "A row of the actuals sheet does not belong to the plan",
    "REC-2": "Two rows of the actuals sheet are for the same fill, order or level",
    "REC-3": "A cell that the record needs is blank",
    "REC-4": "A time span ends before it begins, or is longer than a day's work",
    "REC-5": "Two works of one truck overlap",
    "REC-6": "More was sprayed than the compartments held",
    "REC-7": "A compartment was filled above its capacity",
    "REC-8": "The rate that was reached lies outside the label's",
    "REC-9": "Wind or temperature were outside the label's limits",
    "REC-10": "It is recorded already",
    "REC-11": "More was treated than the lawn",
    "REC-12": "There is no record yet that could be corrected",
    "REC-13": "A level is larger than its compartment, or far from what the figures leave",
    "REC-14": "The plan is not the plan of record of its date",
    "REC-15": "A plan that was never printed does not pass the audit",
}
"""Code -> title. REC-5 to REC-9, REC-11 and REC-13 can be confirmed: what really happened must be
recorded even where it should not have happened."""

LEVEL_CODES: Final = frozenset({"REC-6", "REC-7", "REC-13"})
"""What follows from all records of a truck together."""

CONFIRMABLE: Final = frozenset({"REC-5", "REC-6", "REC-7", "REC-8", "REC-9", "REC-11", "REC-13"})
"""Codes that a row with `sure` = yes and a note in words is recorded with."""
