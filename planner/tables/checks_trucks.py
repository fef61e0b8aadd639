"""Checks of trucks: weights, lunch, what they are fitted with, their service containers, and a
shift with room for a day."""

import re
from collections.abc import Iterator

from planner.day.fleet import Caught
from planner.problems import Problem
from planner.tables.rows import Row, Tables
from planner.tables.text import did_you_mean


def check_weight_rating(tables: Tables) -> Iterator[Problem]:
    """TRUCK-1: a rating that leaves no pound for mix."""
    for row in tables.rows("trucks"):
        empty, rating = row.number_or_none("empty_weight_lb"), row.number_or_none("gvwr_lb")
        if empty is not None and rating is not None and rating <= empty:
            yield row.problem(
                "gvwr_lb",
                "TRUCK-1",
                f"the empty truck already weighs {empty:,.0f} lb",
                "check both weights; gvwr_lb stands on the door plate",
            )


def check_lunch_times(tables: Tables) -> Iterator[Problem]:
    """TRUCK-2: a lunch break without its earliest or latest time."""
    for row in tables.rows("trucks"):
        if not row.number_or_none("lunch_min"):
            continue
        for column in ("lunch_earliest", "lunch_latest"):
            if row.good(column) and row.value(column) is None:
                yield row.problem(
                    column,
                    "TRUCK-2",
                    "the time is needed because lunch_min is over 0",
                    "write a time, or 0 as lunch_min",
                )


def check_trucks_are_fitted(tables: Tables) -> Iterator[Problem]:
    """TRUCK-3: a truck without a line or without a compartment."""
    for table in ("lines", "compartments"):
        if not tables.known(table):
            continue
        fitted = {row.written("truck") for row in tables.rows(table)}
        for row in tables.rows("trucks"):
            if row.good("truck") and row.text("truck") not in fitted:
                yield row.problem(
                    "truck",
                    "TRUCK-3",
                    f"the truck has no row in {table}",
                    f"add its {table}, or remove the truck",
                )


def caught_in(cell: str) -> Caught | None:
    """Mix and gallons of one entry of trucks.service_containers ('WEED 3.5'); None = unreadable."""
    found = re.fullmatch(r"(.*\S)\s+(\d+\.?\d*|\.\d+)\s*(?:gal\.?)?", cell.strip())
    return Caught(found[1], float(found[2])) if found else None


def check_service_containers(tables: Tables) -> Iterator[Problem]:
    """TRUCK-4: a service container without gallons, or with a mix that is none."""
    mixes = sorted(row.written("mix") for row in tables.rows("mixes"))
    for row in tables.rows("trucks"):
        for cell in row.items("service_containers"):
            caught = caught_in(cell)
            cure = "write mix and gallons, as in WEED 3.5; FEED 2"
            if caught is None:
                message = "it is not a mix and its gallons"
            elif tables.known("mixes") and caught.mix_id not in mixes:
                message = f"no mix is called {caught.mix_id}"
                cure = did_you_mean(caught.mix_id, mixes, cure)
            else:
                continue
            yield row.problem("service_containers", "TRUCK-4", message, cure, found=cell)


def check_shifts_have_room(tables: Tables) -> Iterator[Problem]:
    """TRUCK-5: a shift that inspection, loading and paperwork fill: the truck never leaves."""
    setup_min = {row.text("site"): row.number_or_none("setup_min") for row in tables.rows("sites")}
    holding = {
        row.text("truck")
        for row in tables.rows("compartments")
        if row.number_or_none("leftover_gal")
    }

    def own(row: Row, column: str) -> object:
        value = row.value(column)
        return tables.settings.get(column) if value is None else value

    for row in tables.rows("trucks"):
        needed = {
            name: float(str(own(row, f"{name}_min") or 0.0))
            for name in ("inspection", "washdown", "paperwork")
        }
        # With something on board it may leave without a fill.
        if own(row, "yard_loading") == "morning" and row.text("truck") not in holding:
            needed["the yard's set-up"] = setup_min.get(row.text("yard")) or 0.0
        begins, ends = row.number_or_none("shift_start"), row.number_or_none("shift_end")
        if begins is None or ends is None or begins >= ends or row.value("in_service") is False:
            continue
        ends += row.number_or_none("overtime_most_min") or 0.0
        if sum(needed.values()) >= ends - begins:
            parts = ", ".join(f"{name} {minutes:g}" for name, minutes in needed.items() if minutes)
            yield row.problem(
                "shift_end",
                "TRUCK-5",
                f"the truck can never leave: its shift with overtime has {ends - begins:g} "
                f"minutes, of which the yard takes {sum(needed.values()):g} ({parts})",
                "check these minutes, of the truck and in settings, or lengthen the shift",
            )
