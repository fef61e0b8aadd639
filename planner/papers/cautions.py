"""The cautions that every packet carries, in our own words."""

LAW = (
    "The product's label is the law; local rules come before this sheet. The licensed applicator "
    "named above reads the labels, checks every figure and decides. This planner only computes."
)
"""Printed at the top of every sheet."""

MIXING = (
    "Wear what the label asks for before you open a container, and keep it on.",
    "Guard the water source: air gap or working backflow preventer at every fill, and never leave "
    "a filling compartment alone.",
    "Never add more gallons than this sheet says, nor fill past the full mark: the truck's weight "
    "rating counts on it.",
    "Spill: stop it, contain it, keep it out of drains and water, then call the office.",
    "Rinse empty containers three times into the mix before the last water; the rinse is part of "
    "it.",
)
"""Printed on each mix sheet."""

RESTRICTED = (
    "Restricted use: only the licensed applicator named above, or someone under that person's "
    "direct supervision as the label and the state allow, mixes, loads, sprays or cleans up this"
)
"""Printed before the names of restricted-use products (40 CFR 171.1(b))."""

SPRAYING = (
    "Measure the wind at the lawn before spraying; a forecast is not a reading. Stop when it blows "
    "toward people, gardens or water, or when it is dead calm with haze or fog.",
    "Nobody on the lawn until the spray is dry, or longer where the label says so.",
    "No spray on walks, drives and drains; sweep or rinse nothing into the street.",
    "All valves of a line show one number before the pump runs.",
    "Spill: stop it, contain it, keep it out of drains and water, then call the office.",
    "Weigh the truck if in doubt.",
)
"""Printed on each route sheet."""

HANDED_OUT = (
    "Restricted use: hand it only to the licensed applicator of the truck, or to someone under "
    "that person's direct supervision as the label and the state allow"
)
"""Printed on the pick list before the names of restricted-use products (40 CFR 171.1(b))."""

OTHER_LEVEL = (
    "If the gauge reads otherwise, add this; between rows take the higher level, over the last "
    "call the office."
)
"""Over the table of other levels beside a fill."""

LEFTOVER = (
    "Keep it for the same mix, marked with mix, gallons and date; or spray it at label rate on a "
    "site the label names. Never into another compartment, on bare ground or down a drain."
)
"""What to do with what is left in a compartment."""

DISPLACED = (
    "Catch it in a service container with its label of this packet, never in another compartment."
)
"""What to do with mix pushed out of a hose."""

LABELS = (
    "Cut them out and tape them on, one on each container with that mix; fill in what is blank. "
    "EPA recommends a label and does not require one; your state may: ask it."
)
"""Over the labels of service containers."""

RINSE_HOSE = " The two must be kept apart: rinse pump, hose and gun with clean water in between."
"""Of a hose that holds a mix which the truck's mixes must be kept apart from."""

HOSE_KEPT = (
    "of this mix from the last day: nothing goes in first. If it was drained, or its labels do not "
    "let it stand, empty it and fill it with as much of this mix."
)
"""Of a hose that holds its first mix in the morning."""

RINSE_WATER = "the rinse water is out of the hose, and put that with the other rinse water."
"""Of a hose through which a compartment was rinsed in the morning."""

FIRST_HOSE = "What was in the hose goes into a container marked with its mix."
"""What to do with the hose's content at the first use of a line on the day."""

VALVES = "If the valves do not agree, the pump moves one compartment's mix into another."
"""Why all valves of a line point at one number."""
