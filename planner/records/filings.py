"""Layouts in which states want a year's applications filed, beside the general one.

New York: columns of Form 26, Pesticide Sales and Use Reporting, http://132.236.168.120/pages/
diffpages.action?originalId=4784399&pageId=4784396 (record layout read 2026-11-27); county codes,
https://www.dec.ny.gov/chemical/96888.html (read 2026-11-27). Due February 1 (ECL 33-1205).
Virginia: square feet by ZIP code of land that received lawn fertilizer, each area once,
2VAC5-405-100 B and https://tfrt.vdacs.virginia.gov (read 2026-11-27). Due February 1.
"""

from collections.abc import Collection, Iterable
from datetime import date
from typing import Final

from planner.records.current import SPRAYED, current, kind_of
from planner.records.reports import ApplicationRow
from planner.records.store import Event

NY_COLUMNS: Final = (
    "EPA Registration Number",
    "Product Name",
    "Quantity",
    "Units of Measure",
    "Application Date",
    "End Date",
    "County Code",
    "Address",
    "Municipality",
    "Zip Code",
    "Dosage Rate",
    "Method of Application",
    "Target Organism(s)",
    "Place of Application",
)
VA_COLUMNS: Final = ("Zip Code", "Total Square Feet", "Total Acres", "Properties")

_NY_COUNTIES: Final = (
    "Albany Allegany Broome Cattaraugus Cayuga Chautauqua Chemung Chenango Clinton Columbia "
    "Cortland Delaware Dutchess Erie Essex Franklin Fulton Genesee Greene Hamilton Herkimer "
    "Jefferson Lewis Livingston Madison Monroe Montgomery Nassau Niagara Oneida Onondaga Ontario "
    "Orange Orleans Oswego Otsego Putnam Rensselaer Rockland St.Lawrence Saratoga Schenectady "
    "Schoharie Schuyler Seneca Steuben Suffolk Sullivan Tioga Tompkins Ulster Warren Washington "
    "Wayne Westchester Wyoming Yates Bronx Kings NewYork Queens Richmond"
)
NY_COUNTY_CODES: Final = {
    name.casefold(): f"{number:02d}" for number, name in enumerate(_NY_COUNTIES.split(), 1)
}
SQ_FT_PER_ACRE: Final = 43_560.0


def new_york(rows: Iterable[ApplicationRow]) -> list[tuple[object, ...]]:
    """A row per application and pesticide. A county that is blank or unknown has no code."""
    return [
        (
            row.registration_no,
            row.product,
            row.amount,
            row.amount_unit,
            f"{date.fromisoformat(row.date):%m/%d/%Y}",
            "",
            NY_COUNTY_CODES.get(_county(row.county), ""),
            row.address,
            row.town,
            row.zip,
            row.rate,
            row.method,
            row.target,
            row.site,
        )
        for row in rows
        if row.registration_no
    ]


def virginia(events: Iterable[Event], fertilizers: Collection[str]) -> list[tuple[object, ...]]:
    """A row per ZIP code. Of a property its largest day counts, at most its lawn. fertilizers: ids
    of the products that feed."""
    days: dict[tuple[str, float, str], dict[str, float]] = {}
    for event in current(events).values():
        body = event.body
        if kind_of(event) != SPRAYED or body["state"].upper() != "VA":
            continue
        if any(one["product_id"] in fertilizers for one in body["products"]):
            by_day = days.setdefault((body["zip"], body["lawn_ft2"], body["property_id"]), {})
            by_day[event.day] = by_day.get(event.day, 0.0) + body["area_ft2"]
    sums: dict[str, list[float]] = {}
    for (zip_code, lawn_ft2, _), by_day in days.items():
        sums.setdefault(zip_code, []).append(min(lawn_ft2, max(by_day.values())))
    return [
        (zip_code, round(sum(some)), round(sum(some) / SQ_FT_PER_ACRE, 2), len(some))
        for zip_code, some in sorted(sums.items())
    ]


def _county(name: str) -> str:
    return "".join(name.casefold().removesuffix("county").split())
