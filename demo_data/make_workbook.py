"""Writes the demo workbook, one spring day: python demo_data/make_workbook.py [folder]

Customers live at house numbers of the invented town; their names are invented. The same seed
gives the same bytes.

Rough size of the day (worked by hand): 1,050,000 ft2 of lawn at 2.3 gal per 1,000 ft2 are some
2,430 gal. The trucks' large compartments hold 1,900 gal, one truck is full by weight 100 gal
sooner, and they are not divided among the mixes as the orders are: 5 to 8 refills. Spraying at
2.5 gal/min takes 970 min, 80 set-ups of 6 min 480, driving some 85 x 5 = 425, refills 7 x 16 =
110, changeovers and waiting 50: some 2,035 of the 2,450 minutes that five trucks have after lunch
is taken off. Wind after 1 pm, windows and pins take much of what is left.
"""

from __future__ import annotations

import csv
import sys
from pathlib import Path
from random import Random

import demo_tables as by_hand
from demo_customers import add_contacts, customers_of
from demo_labels import PRODUCT_RATES, with_labels
from demo_orders import DATE, NEXT_DATE, history_of, order_row, orders_for
from make_town import TOWN, VILLAGE_NAME, Town, make_town
from town_geometry import distance_ft

SEED = 2027


YARD_NEAR = (19_600.0, 24_300.0)
"""Where the yard lies in the drawing, ft."""


DEFAULT_OUT = Path(__file__).resolve().parent / "spring_day"


def sites_of(town: Town) -> list[dict[str, str]]:
    """The yard and the two water points, at addresses of the town."""
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
        (YARD_NEAR, "YARD", "yard", "Shop and yard", "38", "9", "5:00 AM", "7:00 PM", "",
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
    wind = (3, 4, 4, 5, 5, 6, 7, 11, 12, 12, 12, 11, 10, 9, 9)
    gust = (4, 6, 6, 7, 8, 8, 9, 13, 14, 15, 14, 13, 13, 12, 12)
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


SITE_PHONES = ("", "740-555-0188", "740-555-0189")
TRUCK_PHONES = ("740-555-0181", "740-555-0182", "740-555-0183", "740-555-0184", "740-555-0185")


def _with_phones(rows: list[dict[str, str]], phones: tuple[str, ...]) -> list[dict[str, str]]:
    return [{**row, "phone": phone} for row, phone in zip(rows, phones, strict=True)]


PLANNER_TOML = """# Where the planner finds the streets of the demo town.
roads = "../../maps/alder-mills.osm.pbf"
"""


def tables(town: Town, seed: int = SEED) -> dict[str, list[dict[str, str]]]:
    """Every table of the workbook as rows of text; the same seed gives the same rows."""
    random = Random(seed)
    customers = customers_of(town, random)
    orders = orders_for(customers, random)
    add_contacts(customers)
    return {
        "settings": by_hand.SETTINGS,
        "sites": _with_phones(sites_of(town), SITE_PHONES),
        "trucks": _with_phones(by_hand.TRUCKS, TRUCK_PHONES),
        "lines": by_hand.LINES,
        "compartments": by_hand.COMPARTMENTS,
        "products": with_labels(by_hand.PRODUCTS),
        "product_rates": PRODUCT_RATES,
        "mixes": by_hand.MIXES,
        "mix_products": by_hand.MIX_PRODUCTS,
        "keep_apart": by_hand.KEEP_APART,
        "properties": [customer.row for customer in customers],
        "orders": [order_row(2101 + k, order) for k, order in enumerate(orders)],
        "weather": _weather(),
        "history": history_of(orders, random),
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
