"""Checks of names that nobody lists: one that is misspelled would be passed over silently."""

from __future__ import annotations

import re
from collections.abc import Iterator

from planner.problems import Problem
from planner.rules.data import duty_rules, fertilizer_rules
from planner.rules.grasses import grass_rows, known_grasses, lawn_names
from planner.tables.rows import Row, Tables
from planner.tables.text import alike, did_you_mean, letters

Names = frozenset[str]

GRASS_CELLS = (("products", "not_on_grass"), ("product_rates", "grass"), ("local_rules", "grass"))


def check_grass_names(tables: Tables) -> Iterator[Problem]:
    """GRASS-3: a grass of a label or a local rule that is neither in the planner's list nor on any
    lawn; what is said of it would hold on none."""
    lawns = {letters(row.text("grass")) for row in tables.rows("properties")}
    for table, column in GRASS_CELLS:
        for row in tables.rows(table):
            for name in row.items(column) or lawn_names(row.text(column)):
                if known_grasses(name) or letters(name) in lawns:
                    continue
                names = [grass for grass, _ in grass_rows()]
                cure = did_you_mean(name, names, "write one of: " + ", ".join(names))
                message = "no lawn has this grass, and the planner does not know the name"
                yield row.problem(column, "GRASS-3", message, cure, found=name)


def check_near_names(tables: Tables) -> Iterator[Problem]:
    """NAME-1: a name that is nearly, but not quite, one of those that it is compared with."""
    found: dict[tuple[str, Names], str] = {}
    for row, column, known, where in _compared(tables):
        for name in _items(row.text(column), column) if known else ():
            if (name, known) not in found:
                found[name, known] = _like(_bare(name), known)
            if found[name, known]:
                message = f"{where} has '{found[name, known]}'"
                cure = "spell it the same way in both places"
                yield row.problem(column, "NAME-1", message, cure, found=name)


def _like(bare: str, known: Names) -> str:
    """The name that it is nearly; '' when it is one, or near none."""
    plain = {_bare(name): name for name in sorted(known)}
    if not bare or bare in plain:
        return ""
    return next((plain[other] for other in plain if alike(bare, other)), "")


def _compared(tables: Tables) -> Iterator[tuple[Row, str, Names, str]]:
    for column in ("county", "town"):
        places = frozenset(row.text(column) for row in tables.rows("properties")) - {""}
        for row in tables.rows("local_rules"):
            yield row, column, places, "the table properties"
    counties: dict[str, set[str]] = {}
    for rule in fertilizer_rules():
        counties.setdefault(rule.state, set()).update({rule.county} - {""})
    for duty in duty_rules():
        counties.setdefault(duty.state, set()).update(duty.counties)
    office = str(tables.settings.get("state") or "")
    for row in tables.rows("properties"):
        state = (row.text("state") or office).upper()
        yield row, "county", frozenset(counties.get(state, ())), "a rule of the state"
    targets: dict[str, set[str]] = {}
    for row in tables.rows("mix_products"):
        targets.setdefault(row.text("product"), set()).update(_items(row.text("target"), "target"))
    for row in tables.rows("product_rates"):
        yield (
            row,
            "target",
            frozenset(targets.get(row.text("product"), ())),
            "the table mix_products",
        )
    people = frozenset(row.text("applicator") for row in tables.rows("applicators")) - {""}
    for table, column in (("trucks", "applicator"), ("applicators", "supervisor")):
        for row in tables.rows(table):
            yield row, column, people, "the table applicators"


def _items(cell: str, column: str) -> list[str]:
    marks = "[;,]" if column == "target" else ";"
    return [name.strip() for name in re.split(marks, cell)]


def _bare(name: str) -> str:
    return letters(name).removesuffix("county")


def check_areas(tables: Tables) -> Iterator[Problem]:
    """WEATHER-2: a weather area of ground or temperatures that no property has."""
    used = {row.text("weather_area") for row in tables.rows("properties")}
    used |= {row.text("area") for row in tables.rows("weather")}
    for table in ("ground", "temperatures"):
        for row in tables.rows(table):
            if row.text("area") and row.text("area") not in used:
                cure = did_you_mean(row.text("area"), sorted(used - {""}), "name one that has")
                yield row.problem("area", "WEATHER-2", "no property has this weather area", cure)
