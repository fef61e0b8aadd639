"""The codes of planner/docs/codes.csv, by what they are about."""

from __future__ import annotations

import csv
from pathlib import Path

DOCS = Path(__file__).resolve().parents[1] / "planner" / "docs"

BY_TITLE: dict[str, dict[str, str]] = {}
"""Title -> code -> what it means."""

with (DOCS / "codes.csv").open(encoding="utf-8", newline="") as file:
    for row in csv.DictReader(file):
        BY_TITLE.setdefault(row["of"], {})[row["code"]] = row["means"]

CODES = BY_TITLE["Problems of a workbook: reading and checking"]
UNIT_CODES = BY_TITLE["Problems of a workbook: units and rates"]
RECIPE_CODES = BY_TITLE["Problems of a workbook: recipes"]
LABEL_CODES = BY_TITLE["Problems of a workbook: labels"]
ADDITION_CODES = BY_TITLE["Problems of a workbook: order of addition"]
HAND_CODES = BY_TITLE["Problems of a stop order changed by hand"]
HOLD_CODES = BY_TITLE["Held orders"]
VIOLATION_CODES = BY_TITLE["Violations found by the audit"]
