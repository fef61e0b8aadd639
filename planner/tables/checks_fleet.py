"""Checks of trucks, lines and compartments."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from planner.problems import Problem
from planner.tables.rows import Tables
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


def check_compartment_lines(tables: Tables) -> Iterator[Problem]:
    """COMP-1: a compartment on a line that its truck does not have."""
    if not tables.known("lines"):
        return
    lines: dict[str, list[str]] = defaultdict(list)
    for row in tables.rows("lines"):
        lines[row.written("truck")].append(row.written("line"))
    for row in tables.rows("compartments"):
        truck, line = row.text("truck"), row.text("line")
        # A truck without any line is TRUCK-3, or not there at all (REF-1).
        if line and lines.get(truck) and line not in lines[truck]:
            yield row.problem(
                "line",
                "COMP-1",
                f"truck {truck} has no such line",
                did_you_mean(line, lines[truck], "add it to lines"),
            )


def check_positions(tables: Tables) -> Iterator[Problem]:
    """COMP-2: a valve position that two compartments of a truck share."""
    first: dict[tuple[str, object], int] = {}
    for row in tables.rows("compartments"):
        if not row.good("truck", "position"):
            continue
        key = (row.text("truck"), row.value("position"))
        if key in first:
            yield row.problem(
                "position",
                "COMP-2",
                f"the compartment in row {first[key]} has the same position",
                "give each compartment of a truck its own number on the valves",
            )
        first.setdefault(key, row.number)


def check_contents(tables: Tables) -> Iterator[Problem]:
    """COMP-3, COMP-4: a heel or a leftover that the compartment cannot hold."""
    for row in tables.rows("compartments"):
        capacity = row.number_or_none("capacity_gal")
        if capacity is None:
            continue
        heel, leftover = row.number_or_none("heel_gal"), row.number_or_none("leftover_gal")
        if heel is not None and heel >= capacity:
            yield row.problem(
                "heel_gal",
                "COMP-3",
                f"the heel leaves nothing of the {capacity:g} gal to pump",
                "write what the pump cannot reach, in gallons",
            )
        if leftover is not None and leftover > capacity:
            yield row.problem(
                "leftover_gal",
                "COMP-4",
                f"the compartment holds only {capacity:g} gal",
                "measure it again, or check the capacity",
            )


def check_leftovers_have_a_mix(tables: Tables) -> Iterator[Problem]:
    """COMP-5: gallons of an unknown mix; nobody may spray them or add to them."""
    for row in tables.rows("compartments"):
        leftover = row.number_or_none("leftover_gal")
        if leftover and row.good("last_mix") and not row.text("last_mix"):
            yield row.problem(
                "last_mix",
                "COMP-5",
                f"there are {leftover:g} gal left over, but of no mix",
                "name the mix, or write 0 as leftover_gal when it is drained and clean",
            )


def check_reserved_groups(tables: Tables) -> Iterator[Problem]:
    """COMP-6: a compartment kept for a group that no product belongs to."""
    groups = sorted({row.written("group") for row in tables.rows("products")} - {""})
    if not tables.known("products") or not groups:
        return
    for row in tables.rows("compartments"):
        group = row.text("reserved_for")
        if group and group not in groups:
            cure = did_you_mean(group, groups, "write a group of the products table, or nothing")
            yield row.problem("reserved_for", "COMP-6", "no product is of this group", cure)
