"""Writes the demo season: python demo_data/make_season.py [folder]

The workbook holds twenty working days, a week out of each of four rounds of a spring, and beside it
in fleets/ three fleets to plan them with. Town, mixes and kinds of customers are the demo day's.
The same seed gives the same bytes.
"""

from __future__ import annotations

import csv
import sys
from pathlib import Path
from random import Random

import demo_tables as by_hand
from demo_customers import Customer, customers_of
from demo_orders import history_of, order_row
from make_town import TOWN, Town, make_town
from make_workbook import YARD_NEAR, sites_of
from season_fleets import FLEETS, PRICES
from season_orders import WORKING_DAYS, orders_of_day, season_homes, season_weather

SEED = 2028


DEFAULT_OUT = Path(__file__).resolve().parent / "season"


CUSTOMERS_PER_DEMO_CUSTOMER = 5
"""375 properties, one fifth of them on each weekday."""


LONG_RUN_FT = "345"
"""No small truck has so much hose: its fleet leaves these customers out, and the comparison has
to say so."""


PLANNER_TOML = """# Where the planner finds the streets of the demo town.
roads = "../../maps/alder-mills.osm.pbf"
"""


def tables(town: Town, seed: int = SEED) -> dict[str, list[dict[str, str]]]:
    """Every table of the workbook as rows of text; the same seed gives the same rows."""
    random = Random(seed)
    customers = customers_of(town, random, CUSTOMERS_PER_DEMO_CUSTOMER)
    for customer in customers:
        customer.row["weather_area"] = ""
    for customer in _far_back(customers):
        customer.row["hose_run_ft"] = LONG_RUN_FT
    homes = season_homes(customers, YARD_NEAR, random)
    days = [orders_of_day(homes, day, random) for day in WORKING_DAYS]
    first_round = [order for orders in days[:5] for order in orders]
    orders = [order for orders in days for order in orders]
    return {
        "settings": by_hand.SETTINGS,
        "sites": sites_of(town),
        **FLEETS["present"],
        "products": by_hand.PRODUCTS,
        "mixes": by_hand.MIXES,
        "mix_products": by_hand.MIX_PRODUCTS,
        "keep_apart": by_hand.KEEP_APART,
        "properties": [customer.row for customer in customers],
        "orders": [order_row(5001 + k, order) for k, order in enumerate(orders)],
        "weather": season_weather(),
        "history": history_of(first_round, random),
    }


def _far_back(customers: list[Customer]) -> list[Customer]:
    """The two largest estates, whose houses stand far back."""
    estates = [home for home in customers if home.address.zone == "estate"]
    return sorted(estates, key=lambda home: -home.lawn_ft2)[:2]


def write_season(folder: Path) -> None:
    """Write the workbook's files and its fleets into a folder, over what is there."""
    _write_tables(folder, tables(make_town()))
    (folder / "planner.toml").write_text(PLANNER_TOML, encoding="utf-8", newline="\n")
    for name, fleet in FLEETS.items():
        _write_tables(folder / "fleets" / name, fleet)
        prices = folder / "fleets" / name / "fleet.toml"
        prices.write_text(PRICES[name], encoding="utf-8", newline="\n")


def _write_tables(folder: Path, rows_by_table: dict[str, list[dict[str, str]]]) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for name, rows in rows_by_table.items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)


def main() -> None:
    """Write the season to the folder given, or to its place beside this script."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else DEFAULT_OUT
    write_season(folder)
    sys.stdout.write(f"{folder.name}: {len(WORKING_DAYS)} days of a spring in {TOWN}\n")


if __name__ == "__main__":
    main()
