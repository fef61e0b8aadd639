"""An export as an office's program might write it, made from code: 60 customers with joined names,
areas in thousands of square feet and acres, rows that are not active, odd phones and dates.

Every name and number is invented; addresses are those of the demo town, so that they can be found.
"""

from __future__ import annotations

import csv
import io
from pathlib import Path

DEMO = Path(__file__).resolve().parents[1] / "demo_data" / "spring_day"

HEADERS = (
    "Cust #",
    "Last Name",
    "First Name",
    "Svc Address",
    "Apt",
    "Turf K",
    "Type of Grass",
    "Cell",
    "Home Phone",
    "E-Mail",
    "Gate Code",
    "Dogs?",
    "Sign",
    "Due By",
    "Services Due",
    "Price",
    "Comments",
    "Active?",
    "Balance",
    "Sales Rep",
)
FIRST = ("Avis", "Brody", "Cleo", "Dario", "Elsa", "Floyd", "Greta", "Hollis", "Inez", "Jarvis")
LAST = ("Applegarth", "Brightwell", "Coldiron", "Dunmore", "Eastlake", "Fairbrook")
SERVICES = ("Pre-M", "BROAD", "Pre-M; Grub Shield", "Green", "Fungus + Green", "Pre-M")
AREAS = ("6.7K", "0.24 ac", "9.3", "11,200 sq ft", "1/4 acre", "7.1K")
PHONES = (
    "614.555.0{:03d}",
    "(614) 555-0{:03d}",
    "6145550{:03d}",
    "1-614-555-0{:03d}",
    "555-0{:03d}",
)
DATES = ("4/16/27", "04/20/2027", "2027-04-19", "19-Apr-27", "Apr 21, 2027", "46495")
GRASS = ("KBG", "tall fescue", "tall fescue", "bluegrass/rye mix")


def rows(count: int = 60) -> list[list[str]]:
    """The customers, the header not included; three of them are not active."""
    with (DEMO / "properties.csv").open(encoding="utf-8", newline="") as file:
        places = list(csv.DictReader(file))[:count]
    made = []
    for index, place in enumerate(places):
        number = f"{index:03d}"
        made.append(
            [
                f"C{1000 + index}",
                LAST[index % len(LAST)],
                FIRST[index % len(FIRST)] if index != 7 else "",
                f"{place['address']}, {place['town']}, {place['state']} {place['zip']}",
                "Unit 2" if index == 11 else "",
                AREAS[index % len(AREAS)] if index != 20 else "see map",
                GRASS[index % len(GRASS)],
                PHONES[index % len(PHONES)].format(int(number)) if index != 30 else "6.14555E+09",
                "n/a" if index % 3 else f"740-555-0{number}",
                f"house{index}@example.com" if index % 4 else "",
                "left side" if index % 5 == 0 else "",
                "Y" if index % 6 == 0 else "N",
                "Y" if index % 2 else "N",
                DATES[index % len(DATES)],
                SERVICES[index % len(SERVICES)],
                f"${45 + index}.00",
                "call first" if index % 9 == 0 else "",
                "N" if index in (4, 25, 47) else "Y",
                f"{index * 3.5:.2f}",
                "MK",
            ]
        )
    return made


def text(customers: list[list[str]] | None = None, separator: str = ";") -> str:
    """The whole export: a title, a blank line, the header, the customers, a blank row, a total."""
    customers = rows() if customers is None else customers
    out = io.StringIO()
    writer = csv.writer(out, delimiter=separator, lineterminator="\r\n")
    writer.writerow(["Customer list", "", "printed 4/12/2027"])
    writer.writerow([])
    writer.writerow(HEADERS)
    writer.writerows(customers)
    writer.writerow([""] * len(HEADERS))
    writer.writerow(["Total", "", "", f"{len(customers)} customers", *[""] * 14, "6195.00", ""])
    return out.getvalue()
