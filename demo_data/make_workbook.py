"""Writes the demo workbook, one spring day: python demo_data/make_workbook.py [folder]

Customers live at house numbers of the invented town; their names are invented. The same seed
gives the same bytes.

Rough size of the day (worked by hand, per 1,000 ft2): about 880,000 ft2 of lawn at some 2.2 gal
are about 1,950 gal. The trucks carry some 1,750 gal in their large compartments, but not of the
mixes in just the share that the orders ask for, so that 4 to 8 refills come out. Spraying at
2.4 gal/min takes about 810 min, 75 set-ups of 6 min 450, driving about 90 x 6 = 540, refills
6 x 22 = 130: some 1,930 of the 2,600 minutes that five trucks have, with windows, wind after
1 pm and two-mix visits in the way.
"""

from __future__ import annotations

import csv
import math
import sys
from dataclasses import dataclass, field, replace
from pathlib import Path
from random import Random

import demo_tables as by_hand
from make_town import STATE, TOWN, VILLAGE_NAME, Address, Town, make_town
from town_geometry import Point, distance_ft

SEED = 2027
DEFAULT_OUT = Path(__file__).resolve().parent / "spring_day"
DATE, NEXT_DATE = "2027-04-14", "2027-04-15"
"""A Wednesday in the middle of the spring round."""

# zone: (properties, median lawn ft2, spread of its logarithm)
ZONES = {
    "suburb": (43, 9_600.0, 0.38),
    "core": (13, 5_200.0, 0.30),
    "village": (7, 7_000.0, 0.35),
    "estate": (5, 22_000.0, 0.33),
    "rural": (7, 17_000.0, 0.42),
}
LAWN_LEAST_FT2, LAWN_MOST_FT2 = 3_000, 45_000

FIRST_NAMES = [
    "Ada",
    "Bert",
    "Carla",
    "Deshawn",
    "Edith",
    "Felix",
    "Greta",
    "Hank",
    "Imelda",
    "Jonas",
    "Keiko",
    "Lorna",
    "Milo",
    "Nadine",
    "Otis",
    "Paula",
    "Quentin",
    "Rosa",
    "Silas",
    "Thea",
    "Ulrich",
    "Vera",
    "Wendell",
    "Ximena",
    "Yusuf",
    "Zelda",
]
LAST_NAMES = [
    "Abbot",
    "Birdsong",
    "Cranmer",
    "Dolliver",
    "Ekstrom",
    "Farrow",
    "Gantry",
    "Hollinger",
    "Iverly",
    "Jessup",
    "Kindle",
    "Lathrop",
    "Merriweather",
    "Nordby",
    "Oakes",
    "Pennock",
    "Quarles",
    "Rademaker",
    "Sprague",
    "Thistle",
    "Umber",
    "Vandry",
    "Wexel",
    "Yarnall",
    "Zeller",
    "Arkwright",
    "Bellamy",
    "Coppersmith",
    "Dunning",
    "Everly",
    "Fennell",
    "Garrow",
    "Huxtable",
]
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
    "Neighbour to the east wants a call the working day before",
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
WINDOWS = (
    "8:00-12:00",
    "8:00 AM - 11:30 AM",
    "9:00-11:30; 13:00-15:00",
    "10:00-14:00",
    "12:30 PM - 4:00 PM",
    "7:00-10:00",
    "13:00-16:00",
)
MAIN_MIXES = {"PRE": 27, "BROAD": 21, "GREEN": 13, "INSECT": 8, "DISEASE": 6}
# Second orders at one property: (mix of the first order, second mix).
SECOND_MIXES = (("PRE", "TOTAL"), ("PRE", "TOTAL"), ("GREEN", "TOTAL"), ("BROAD", "TOTAL"),
                ("INSECT", "TOTAL"), ("PRE", "TOTAL"), ("PRE", "BROAD"), ("GREEN", "BROAD"),
                ("PRE", "INSECT"), ("GREEN", "DISEASE"))  # fmt: skip


@dataclass(frozen=True)
class Customer:
    """A property with its place in the drawing and the row of its table."""

    property_id: str
    address: Address
    lawn_ft2: int
    row: dict[str, str]


@dataclass(frozen=True)
class OrderRow:
    """An order before it becomes a row; more: its other cells."""

    customer: Customer
    mix: str
    area_ft2: int | None = None
    more: dict[str, str] = field(default_factory=dict)


# --------------------------------------------------------------------------- properties


def _customers(town: Town, random: Random) -> list[Customer]:
    chosen: list[tuple[Address, int]] = []
    for zone, (count, median_ft2, spread) in ZONES.items():
        streets: dict[str, int] = {}
        pool = [a for a in town.addresses if a.zone == zone]
        while sum(1 for a, _ in chosen if a.zone == zone) < count:
            address = random.choice(pool)
            if streets.get(address.street, 0) >= (3 if zone == "suburb" else 2):
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


# --------------------------------------------------------------------------- orders


def _orders(customers: list[Customer], random: Random) -> list[OrderRow]:
    mixes = [mix for mix, count in MAIN_MIXES.items() for _ in range(count)]
    random.shuffle(mixes)
    orders = [
        OrderRow(customer, mix, None, _order_cells(mix, random))
        for customer, mix in zip(customers, mixes, strict=True)
    ]
    orders = _with_second_orders(orders, random)
    return _with_set_pieces(orders)


def _order_cells(mix: str, random: Random) -> dict[str, str]:
    cells = {"date": DATE, "priority": random.choice(("1", "2", "2", "2", "2", "3"))}
    if random.random() < 0.35:
        first, last = random.choice(
            (("2027-04-12", "2027-04-16"), ("2027-04-14", "2027-04-20"), ("4/10/2027", "4/14/2027"))
        )
        cells.update({"date": "", "due_from": first, "due_to": last})
    # The wind ends broadleaf work about 1 pm: such an order gets no afternoon window here.
    if random.random() < 0.3:
        cells["windows"] = random.choice(WINDOWS[:4] if mix == "BROAD" else WINDOWS)
    return cells


def _with_second_orders(orders: list[OrderRow], random: Random) -> list[OrderRow]:
    taken: set[str] = set()
    seconds = []
    for first_mix, second_mix in SECOND_MIXES:
        free = [
            o
            for o in orders
            if o.mix == first_mix
            and o.customer.property_id not in taken
            and o.customer.lawn_ft2 < 16_000
        ]
        first = random.choice(free)
        taken.add(first.customer.property_id)
        area = random.randrange(300, 1_501, 50) if second_mix == "TOTAL" else None
        cells = {k: v for k, v in first.more.items() if k in ("date", "due_from", "due_to")}
        cells.update({"priority": "2", "windows": first.more.get("windows", "")})
        if second_mix == "BROAD":
            cells["windows"] = ""
        if second_mix == "TOTAL":
            cells["note"] = random.choice(
                (
                    "Gravel drive edge",
                    "Bed edges and walk joints",
                    "Fence line behind the shed",
                    "Old patio joints",
                )
            )
        seconds.append(OrderRow(first.customer, second_mix, area, cells))
    result = []
    for order in orders:
        result.append(order)
        result += [s for s in seconds if s.customer is order.customer]
    return result


def _with_set_pieces(orders: list[OrderRow]) -> list[OrderRow]:
    """The orders that show a rule at work, each at its own property."""
    used: set[str] = {o.customer.property_id for o in orders if o.mix == "TOTAL"}

    def pick(mix: str, zone: str, **cells: str) -> OrderRow:
        """The next free order of a mix, in the zone if it has one."""
        free = [
            (order.customer.address.zone != zone, k)
            for k, order in enumerate(orders)
            if order.mix == mix
            and order.customer.property_id not in used
            and sum(o.customer is order.customer for o in orders) == 1
        ]
        _, k = min(free)
        used.add(orders[k].customer.property_id)
        orders[k] = replace(orders[k], more={**orders[k].more, **cells})
        return orders[k]

    day = {"date": DATE, "due_from": "", "due_to": ""}
    pick(
        "PRE", "estate", note="Long hose: house stands far back", windows="", **day
    ).customer.row.update(hose_run_ft="385")
    pick(
        "BROAD", "core", note="Bowling-green turf kept by the owner", windows="", **day
    ).customer.row.update(grass="bentgrass")
    pick("BROAD", "suburb", note="Asked for a second go at the clover", windows="", **day)
    pick("GREEN", "core", note="Only before the shop opens", windows="6:15-6:45", **day)
    pick(
        "PRE",
        "suburb",
        note="Soft ground: wants the pickup only",
        only_trucks="T5",
        windows="",
        **day,
    ).customer.row.update(hose_run_ft="290")
    pick("INSECT", "suburb", note="Knows Renee; wants her truck", only_trucks="T2", **day)
    pick("DISEASE", "suburb", note="Wants Renee or Dale", only_trucks="T1; T2")
    pick("GREEN", "suburb", note="Brick drive: not the heavy truck", never_trucks="T1")
    pick("PRE", "core", note="Alley too tight for long trucks", never_trucks="T1; T2")
    pick("BROAD", "suburb", note="Complaint last year: not Truck 4", never_trucks="T4")
    pick(
        "PRE",
        "village",
        note="School: only after classes",
        windows="3:15 PM - 5:00 PM",
        priority="1",
        **day,
    )
    pick("BROAD", "suburb", note="Graduation party Saturday", priority="1", windows="", **day)
    pick(
        "GREEN",
        "suburb",
        note="New customer, first visit",
        priority="1",
        windows="9:00 AM - 11:00 AM",
        **day,
    )
    return orders


def _order_row(number: int, order: OrderRow) -> dict[str, str]:
    names = (
        "date",
        "due_from",
        "due_to",
        "windows",
        "priority",
        "only_trucks",
        "never_trucks",
        "note",
    )
    return {
        "order": str(number),
        "property": order.customer.property_id,
        "mix": order.mix,
        "area_ft2": "" if order.area_ft2 is None else str(order.area_ft2),
        **{name: order.more.get(name, "") for name in names},
    }


# --------------------------------------------------------------------------- sites, weather, past


def _sites(town: Town) -> list[dict[str, str]]:
    names = (
        "site",
        "kind",
        "name",
        "fill_gal_per_min",
        "setup_min",
        "open",
        "close",
        "mixes",
        "note",
    )
    wanted = (
        ((19_600.0, 24_300.0), "YARD", "yard", "Shop and yard", "38", "9", "5:00 AM", "7:00 PM", "",
         "Air gap at the overhead fill; measure at the mixing bench"),
        ((28_900.0, 36_400.0), "NORTH", "water point", "County garage stand pipe", "22", "12",
         "7:00 AM", "4:00 PM", "", "Backflow preventer in the cab box; sign the permit sheet"),
        ((51_300.0, 27_300.0), "HALL", "water point", "Penrose Corners fire hall", "28", "12",
         "8:00 AM", "3:30 PM", "PRE; GREEN; DISEASE; INSECT",
         "Hydrant wrench from the hall; no weedkiller to be mixed here"),
    )  # fmt: skip
    rows = []
    for near, *cells in wanted:
        address = min(
            (a for a in town.addresses if a.zone in ("rural", "village")),
            key=lambda a: distance_ft(a.at, near),
        )
        rows.append(
            {
                **dict(zip(names, cells, strict=True)),
                "address": f"{address.number} {address.street}, {address.city}",
                "lat": f"{address.lat:.7f}",
                "lon": f"{address.lon:.7f}",
            }
        )
    return rows


def _weather() -> list[dict[str, str]]:
    """Wind over 10 mph from 1 pm (noon on the ridge) ends the broadleaf mix's day; rain comes
    in the next afternoon."""
    wind = (3, 4, 4, 5, 5, 6, 7, 11, 12, 12, 12, 11, 9, 8, 7)
    gust = (4, 6, 6, 7, 8, 8, 9, 13, 14, 15, 14, 13, 12, 10, 9)
    temperature = (43, 45, 48, 51, 55, 58, 61, 63, 64, 65, 64, 62, 60, 57, 54)
    rows = []
    for date, area in ((DATE, ""), (DATE, "ridge"), (NEXT_DATE, "")):
        for k, hour in enumerate(range(6, 21)):
            ahead = min(k + 1, 14) if area else k
            wet = date == NEXT_DATE and hour >= 13
            rows.append(
                {
                    "date": date,
                    "hour": str(hour),
                    "area": area,
                    "wind_mph": str(wind[ahead]),
                    "gust_mph": str(gust[ahead]),
                    "temperature_f": str(temperature[k] - (2 if area else 0)),
                    "rain_chance_percent": "70" if wet else ("10" if date == DATE else "30"),
                    "rain_in": "0.08" if wet else "0",
                }
            )
    return rows  # fmt: skip


def _history(orders: list[OrderRow], random: Random) -> list[dict[str, str]]:
    """Last year's work at some customers, and the visit that holds one order back."""
    rows = []
    for order in orders:
        home = order.customer
        thousands = home.lawn_ft2 / 1_000
        if order.more.get("note") == "Asked for a second go at the clover":
            rows.append((home, "TRIO", "2027-03-29", f"{1.3 * thousands:.1f} fl oz"))
        elif order.mix != "TOTAL" and random.random() < 0.25:
            rows.append((home, "UREA28", "2026-09-08", f"{0.5 / 0.28 / 10.6 * thousands:.2f} gal"))
            rows.append((home, "TRIO", "10/06/2026", f"{1.2 * thousands:.1f} fl oz"))
    return [
        {"property": home.property_id, "product": product, "date": date,
         "area_ft2": str(home.lawn_ft2), "amount": amount}
        for home, product, date, amount in rows
    ]  # fmt: skip


# --------------------------------------------------------------------------- writing

PLANNER_TOML = """# Where the planner finds the streets of the demo town.
roads = "../../maps/alder-mills.osm.pbf"
"""


def tables(town: Town, seed: int = SEED) -> dict[str, list[dict[str, str]]]:
    """Every table of the workbook as rows of text; the same seed gives the same rows."""
    random = Random(seed)
    customers = _customers(town, random)
    orders = _orders(customers, random)
    return {
        "settings": by_hand.SETTINGS,
        "sites": _sites(town),
        "trucks": by_hand.TRUCKS,
        "lines": by_hand.LINES,
        "compartments": by_hand.COMPARTMENTS,
        "products": by_hand.PRODUCTS,
        "mixes": by_hand.MIXES,
        "mix_products": by_hand.MIX_PRODUCTS,
        "keep_apart": by_hand.KEEP_APART,
        "properties": [customer.row for customer in customers],
        "orders": [_order_row(2101 + k, order) for k, order in enumerate(orders)],
        "weather": _weather(),
        "history": _history(orders, random),
    }


def write_workbook(folder: Path) -> None:
    """Write the workbook's files into a folder, over what is there."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, rows in tables(make_town()).items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)
    (folder / "planner.toml").write_text(PLANNER_TOML, encoding="utf-8", newline="\n")


def main() -> None:
    """Write the workbook to the folder given, or to its place beside this script."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else DEFAULT_OUT
    write_workbook(folder)
    sys.stdout.write(f"{folder.name}: the day {DATE} in {TOWN} and {VILLAGE_NAME}\n")


if __name__ == "__main__":
    main()
