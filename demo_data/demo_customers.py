"""Customers of the demo day and season: properties at house numbers of the invented town."""

from __future__ import annotations

import math
from dataclasses import dataclass
from random import Random

from make_town import STATE, Address, Town
from town_geometry import Point, distance_ft
from town_names import words

# zone: (properties, median lawn ft2, spread of its logarithm)
ZONES = {
    "suburb": (43, 12_300.0, 0.38),
    "core": (13, 6_400.0, 0.30),
    "village": (7, 9_000.0, 0.35),
    "estate": (5, 24_000.0, 0.33),
    "rural": (7, 20_000.0, 0.42),
}


LAWN_LEAST_FT2, LAWN_MOST_FT2 = 3_000, 45_000


FIRST_NAMES = words("""
Ada, Bert, Carla, Deshawn, Edith, Felix, Greta, Hank, Imelda, Jonas, Keiko, Lorna, Milo,
Nadine, Otis, Paula, Quentin, Rosa, Silas, Thea, Ulrich, Vera, Wendell, Ximena, Yusuf,
Zelda
""")


LAST_NAMES = words("""
Abbot, Birdsong, Cranmer, Dolliver, Ekstrom, Farrow, Gantry, Hollinger, Iverly, Jessup,
Kindle, Lathrop, Merriweather, Nordby, Oakes, Pennock, Quarles, Rademaker, Sprague,
Thistle, Umber, Vandry, Wexel, Yarnall, Zeller, Arkwright, Bellamy, Coppersmith, Dunning,
Everly, Fennell, Garrow, Huxtable
""")


GATES = (
    "",
    "",
    "",
    "",
    "Side gate on the left, latch sticks",
    "Gate code 4410",
    "Back gate padlocked, key under the meter lid",
    "Fence on three sides, gate by the garage",
    "Call at the door first; gate opens from inside",
    "No gate; go round by the right side",
)


DOGS = (
    "",
    "",
    "",
    "",
    "",
    "Two dogs, kept in when called ahead",
    "Dog behind invisible fence",
    "Old dog in the yard, friendly; close the gate",
    "Chickens in a run behind the shed",
    "Beehives at the back corner, keep 30 ft off",
)


NOTICES = (
    "",
    "",
    "",
    "",
    "",
    "",
    "Neighbor to the east wants a call the working day before",
    "Text the customer an hour ahead",
    "Day-care next door: tell them before starting",
    "Leave the written information at the front door",
)


GRASSES = (
    "tall fescue",
    "tall fescue",
    "tall fescue",
    "Kentucky bluegrass",
    "Kentucky bluegrass",
    "perennial ryegrass",
    "fine fescue",
)


@dataclass(frozen=True)
class Customer:
    """A property with its place in the drawing and the row of its table."""

    property_id: str
    address: Address
    lawn_ft2: int
    row: dict[str, str]


def customers_of(town: Town, random: Random, times: int = 1) -> list[Customer]:
    """The properties, in the order of their ids. times: how many for each one of the demo day."""
    chosen: list[tuple[Address, int]] = []
    for zone, (count, median_ft2, spread) in ZONES.items():
        streets: dict[str, int] = {}
        pool = [a for a in town.addresses if a.zone == zone]
        while sum(1 for a, _ in chosen if a.zone == zone) < count * times:
            address = random.choice(pool)
            if streets.get(address.street, 0) >= times * (3 if zone == "suburb" else 2):
                continue
            if any(a is address for a, _ in chosen):
                continue
            streets[address.street] = streets.get(address.street, 0) + 1
            lawn = math.exp(random.gauss(math.log(median_ft2), spread))
            lawn_ft2 = round(min(max(lawn, LAWN_LEAST_FT2), LAWN_MOST_FT2) / 100) * 100
            chosen.append((address, lawn_ft2))
    random.shuffle(chosen)
    names = [f"{first} {last}" for first in FIRST_NAMES for last in LAST_NAMES]
    random.shuffle(names)
    return [
        _customer(f"P{101 + k}", names[k], address, lawn_ft2, town, random)
        for k, (address, lawn_ft2) in enumerate(chosen)
    ]


def _customer(
    property_id: str, name: str, address: Address, lawn_ft2: int, town: Town, random: Random
) -> Customer:
    # The gun reaches some 15 ft; from the street to the far corner of a lawn of common shape.
    run_ft = min(245.0, 45 + 1.35 * math.sqrt(lawn_ft2) * random.uniform(0.85, 1.1))
    water_ft = _water_distance_ft(address.at, town)
    row = {
        "property": property_id,
        "customer": name,
        "address": f"{address.number} {address.street}",
        "town": address.city,
        "state": STATE,
        "zip": address.zip_code,
        "lat": f"{address.lat:.7f}",
        "lon": f"{address.lon:.7f}",
        "lawn_ft2": f"{lawn_ft2:,}" if random.random() < 0.3 else str(lawn_ft2),
        "grass": random.choice(GRASSES),
        "hose_run_ft": str(round(run_ft / 5) * 5),
        "water_distance_ft": "" if water_ft is None else str(water_ft),
        "weather_area": "ridge" if address.at[0] > 44_500 else "",
        "gate_note": random.choice(GATES),
        "dog_note": random.choice(DOGS),
        "sign": "yes",
        "notice": random.choice(NOTICES),
    }
    return Customer(property_id, address, lawn_ft2, row)


def _water_distance_ft(p: Point, town: Town) -> int | None:
    """Feet from the lawn's edge to water where that is under 700 ft, else None."""
    drawing = town.drawing
    near_ft = min(distance_ft(p, q) for q in (*drawing.river, *drawing.stream, *drawing.lake))
    return None if near_ft > 700 else max(40, round((near_ft - 60) / 10) * 10)


FICTION_FIRST, FICTION_COUNT = 100, 100
"""555-0100 to 555-0199 of every area code are kept for fiction (North American Numbering Plan)."""


def add_contacts(customers: list[Customer]) -> None:
    """Numbers and addresses that reach nobody, as an office would have typed them: some customers
    have two, some none; without a random choice, so that nothing else of the demo moves."""
    for k, customer in enumerate(customers):
        row = customer.row
        first, last = row["customer"].lower().split()
        line = FICTION_FIRST + k % FICTION_COUNT
        row["phone"] = ("(740) 555-0{}", "740-555-0{}", "740.555.0{}")[k % 3].format(line)
        row["phone_2"] = f"614-555-0{line} (work)" if k % 7 == 0 else ""
        row["email"] = f"{first}.{last}@example.com" if k % 3 else ""
        row["contact_by"] = ("", "call", "", "text", "email" if k % 3 else "")[k % 5]
        row["language"] = "Spanish" if k % 29 == 4 else ""
        if row["notice"].startswith("Text"):
            row["contact_by"] = "text"
        if k % 37 == 18:
            row["phone"] = row["email"] = row["contact_by"] = ""
