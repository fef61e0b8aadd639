"""The three fleets that the demo season is planned with, written by hand.

Trucks, people and prices are invented. Ratings lie just under and over published tiers on purpose
(10,001 lb and 26,001 lb, 49 CFR 390.5 and 383.91), so that the comparison has something to show.
Weights and prices have the size that such trucks have (from memory, no dealer's list).
"""

from __future__ import annotations

from demo_tables import LINES, TRUCKS, Row, rows_of

SPOT = "non-selective herbicide"

_COMPARTMENT_COLUMNS = (
    "truck | compartment | capacity_gal | heel_gal | line | position | reserved_for"
)

# The demo day's trucks; every day of the season begins with clean compartments.
PRESENT_COMPARTMENTS = rows_of(
    _COMPARTMENT_COLUMNS,
    "T1 | T1-1 | 300 | 3 | A | 1 |",
    "T1 | T1-2 | 180 | 2 | B | 2 |",
    "T1 | T1-3 | 100 | 1.5 | B | 3 |",
    f"T1 | T1-4 | 25 | 0.5 | S | 4 | {SPOT}",
    "T2 | T2-1 | 200 | 2 | A | 1 |",
    "T2 | T2-2 | 120 | 2 | A | 2 |",
    "T2 | T2-3 | 110 | 1.5 | B | 3 |",
    f"T2 | T2-4 | 20 | 0.5 | S | 4 | {SPOT}",
    "T3 | T3-1 | 250 | 2 | A | 1 |",
    "T3 | T3-2 | 180 | 2 | B | 2 |",
    f"T3 | T3-3 | 20 | 0.5 | S | 3 | {SPOT}",
    "T4 | T4-1 | 150 | 1.5 | A | 1 |",
    "T4 | T4-2 | 100 | 1.5 | B | 2 |",
    f"T4 | T4-3 | 15 | 0.4 | S | 3 | {SPOT}",
    "T5 | T5-1 | 100 | 1 | A | 1 |",
    "T5 | T5-2 | 60 | 1 | A | 2 |",
    "T5 | T5-3 | 50 | 1 | B | 3 |",
    f"T5 | T5-4 | 15 | 0.4 | S | 4 | {SPOT}",
)

_SHIFT = "6:45 AM | 4:00 PM | 60 | 30 | 11:00 AM | 1:30 PM"

_TRUCK_COLUMNS = (
    "truck | name | yard | in_service | shift_start | shift_end | overtime_most_min | lunch_min"
    " | lunch_earliest | lunch_latest | crew | applicator | applicator_license | empty_weight_lb"
    " | gvwr_lb | height_ft | cost_per_day | cost_per_mile"
)

# L1 is over 26,001 lb and its tanks together over 1,000 gal; L2 and L3 stay just under the tier. T1
# is the present fleet's: it is kept, the other three are bought.
LARGE_TRUCKS = rows_of(
    _TRUCK_COLUMNS,
    f"L1 | tandem flatbed | YARD | yes | {_SHIFT} | 1 | Dale Ostrander | OH-00000-101"
    " | 17800 | 33000 | 9.8 | 74 | 1.28",
    f"L2 | heavy flatbed | YARD | yes | {_SHIFT} | 1 | Renee Falk | OH-00000-102"
    " | 14900 | 25950 | 9.5 | 66 | 1.12",
    f"L3 | heavy flatbed | YARD | yes | {_SHIFT} | 1 | Curtis Abel | OH-00000-103"
    " | 14900 | 25950 | 9.5 | 66 | 1.12",
    f"T1 | Truck 1, long flatbed | YARD | yes | {_SHIFT} | 1 | Joyce Penhallow | OH-00000-104"
    " | 13100 | 19500 | 9.2 | 62 | 0.98",
)

LARGE_LINES = rows_of(
    "truck | line | hose_ft | hose_inside_diameter_in | gun_gal_per_min | pump_gal_per_min"
    " | pump_psi",
    *(
        f"{truck} | {line}"
        for truck in ("L1", "L2", "L3")
        for line in (
            "A | 400 | 0.625 | 3.0 | 15 | 350",
            "B | 400 | 0.625 | 3.0 | 15 | 350",
            "S | 250 | 0.375 | 1.0 | 3 | 80",
        )
    ),
    "T1 | A | 400 | 0.5 | 2.6 | 12 | 300",
    "T1 | B | 300 | 0.5 | 2.6 | 12 | 300",
    "T1 | S | 250 | 0.375 | 1.0 | 3 | 80",
)

LARGE_COMPARTMENTS = rows_of(
    _COMPARTMENT_COLUMNS,
    "L1 | L1-1 | 600 | 4 | A | 1 |",
    "L1 | L1-2 | 400 | 3 | B | 2 |",
    "L1 | L1-3 | 200 | 2 | B | 3 |",
    f"L1 | L1-4 | 30 | 0.5 | S | 4 | {SPOT}",
    *(
        f"{truck} | {truck}-{rest}"
        for truck in ("L2", "L3")
        for rest in (
            "1 | 450 | 3 | A | 1 |",
            "2 | 300 | 3 | B | 2 |",
            "3 | 150 | 2 | B | 3 |",
            f"4 | 25 | 0.5 | S | 4 | {SPOT}",
        )
    ),
    "T1 | T1-1 | 300 | 3 | A | 1 |",
    "T1 | T1-2 | 180 | 2 | B | 2 |",
    "T1 | T1-3 | 100 | 1.5 | B | 3 |",
    f"T1 | T1-4 | 25 | 0.5 | S | 4 | {SPOT}",
)

_SMALL = ("C1", "C2", "C3", "C4", "C5", "C6")

_SMALL_PEOPLE = (
    "Dale Ostrander", "Renee Falk", "Curtis Abel", "Joyce Penhallow", "Marco Dietz", "Inez Barlow"
)  # fmt: skip

SMALL_TRUCKS = rows_of(
    _TRUCK_COLUMNS,
    *(
        f"{truck} | Truck {k + 1}, pickup with skid tanks | YARD | yes | {_SHIFT} | 1 | {person}"
        f" | OH-00000-{101 + k} | 7450 | 10000 | 7.0 | 34 | 0.70"
        for k, (truck, person) in enumerate(zip(_SMALL, _SMALL_PEOPLE, strict=True))
    ),
)

SMALL_LINES = rows_of(
    "truck | line | hose_ft | hose_inside_diameter_in | gun_gal_per_min | pump_gal_per_min"
    " | pump_psi",
    *(
        f"{truck} | {line}"
        for truck in _SMALL
        for line in (
            "A | 300 | 0.375 | 2.2 | 8 | 220",
            "B | 300 | 0.375 | 2.2 | 8 | 220",
            "S | 250 | 0.375 | 0.8 | 3 | 80",
        )
    ),
)

SMALL_COMPARTMENTS = rows_of(
    _COMPARTMENT_COLUMNS,
    *(
        f"{truck} | {truck}-{rest}"
        for truck in _SMALL
        for rest in (
            "1 | 140 | 1 | A | 1 |",
            "2 | 110 | 1 | B | 2 |",
            f"3 | 15 | 0.4 | S | 3 | {SPOT}",
        )
    ),
)

_HEAD = """# What the trucks of this fleet cost to own: all of it invented, sizes from memory.
# purchase: fitted out, in the yard; sells_for: what it fetches now; yearly_fixed: insurance,
# registration, inspections. A day out costs what cost_per_day in trucks.csv says, beside these.
"""

PRICES = {
    "present": _HEAD
    + """working_days = 200

[truck.T1]
purchase = 118000
life_years = 10
resale = 17000
yearly_fixed = 3400
sells_for = 46000

[truck.T2]
purchase = 99000
life_years = 10
resale = 14000
yearly_fixed = 3000
sells_for = 38000

[truck.T3]
purchase = 86000
life_years = 10
resale = 12000
yearly_fixed = 2800
sells_for = 29000

[truck.T4]
purchase = 74000
life_years = 10
resale = 11000
yearly_fixed = 2400
sells_for = 26000

[truck.T5]
purchase = 63000
life_years = 8
resale = 12000
yearly_fixed = 2200
sells_for = 22000
""",
    "four-large": _HEAD
    + """working_days = 200

[truck.L1]
purchase = 179000
life_years = 12
resale = 31000
yearly_fixed = 6900

[truck.L2]
purchase = 143000
life_years = 11
resale = 24000
yearly_fixed = 4500

[truck.L3]
purchase = 143000
life_years = 11
resale = 24000
yearly_fixed = 4500

[truck.T1]
purchase = 118000
life_years = 10
resale = 17000
yearly_fixed = 3400
""",
    "six-small": _HEAD
    + """working_days = 200

[each_truck]
purchase = 65000
life_years = 8
resale = 13000
yearly_fixed = 2300
""",
}
"""Folder -> its fleet.toml."""

FLEETS: dict[str, dict[str, list[Row]]] = {
    "present": {"trucks": TRUCKS, "lines": LINES, "compartments": PRESENT_COMPARTMENTS},
    "four-large": {
        "trucks": LARGE_TRUCKS,
        "lines": LARGE_LINES,
        "compartments": LARGE_COMPARTMENTS,
    },
    "six-small": {
        "trucks": SMALL_TRUCKS,
        "lines": SMALL_LINES,
        "compartments": SMALL_COMPARTMENTS,
    },
}
"""Folder -> its tables."""
