"""Checks that hold for every table (keys, references, pairs of limits, tables without rows), of
lines and compartments, and of names that nobody lists: a misspelled one would be passed
over silently."""

import re
import unicodedata
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence

from planner.problems import MOST_SHOWN_PER_COLUMN, Problem
from planner.rules.data import duty_rules, fertilizer_rules
from planner.rules.grasses import grass_rows, grasses_like, known_grasses, lawn_names
from planner.tables.columns import REQUIRED_TABLES, columns_of, key_columns
from planner.tables.rows import Row, Tables
from planner.tables.text import alike, did_you_mean, letters
from planner.units import Rate

_WHOLE_NUMBER = re.compile(r"0*(\d+)(?:\.0*)?")

PAIRS = (
    ("sites", "open", "close"),
    ("trucks", "shift_start", "shift_end"),
    ("trucks", "lunch_earliest", "lunch_latest"),
    ("products", "carrier_least_gal_per_1000_ft2", "carrier_most_gal_per_1000_ft2"),
    ("products", "wind_least_mph", "wind_most_mph"),
    ("products", "temperature_least_f", "temperature_most_f"),
    ("products", "rate_least", "rate_most"),
    ("product_rates", "rate_least", "rate_most"),
    ("notify", "lead_least_h", "lead_most_h"),
    ("orders", "due_from", "due_to"),
    ("orders", "due_to", "last_day"),
    ("orders", "date", "last_day"),
    ("weather", "wind_mph", "gust_mph"),
    ("programs", "degree_days_from", "degree_days_to"),
    ("programs", "days_least", "days_most"),
    ("property_programs", "first_day", "last_day"),
    ("temperatures", "low_f", "high_f"),
)
"""(table, column of the lower or earlier value, column of the higher or later one)."""


def check_tables_have_rows(tables: Tables) -> Iterator[Problem]:
    """TABLE-4: a required table that is there but empty."""
    for name in REQUIRED_TABLES:
        table = tables.by_name.get(name)
        if table is not None and not table.cells.numbers:
            yield Problem(
                table.file,
                None,
                None,
                "TABLE-4",
                "the table has no rows",
                cure=f"fill it in; `planner columns {name}` explains its columns",
            )


def check_keys_are_unique(tables: Tables) -> Iterator[Problem]:
    """KEY-1: a second row with the key of an earlier one, or with one that a spreadsheet or an eye
    takes for the same: 500 and 500.0, A and a, one letter in two encodings."""
    for name, table in tables.by_name.items():
        keys = [key for key in table.cells.keys if key is not None]
        if len(set(map(_as_seen, keys))) == len(keys):
            continue
        first: dict[str, tuple[int, str]] = {}
        columns = key_columns(name)
        for row in table.rows:
            key = row.key
            if key is None:
                continue
            number, other = first.setdefault(_as_seen(key), (row.number, key))
            if number != row.number:
                what = columns[0] if len(columns) == 1 else " and ".join(columns)
                message = f"the same {what} is in row {number}"
                if other != key:
                    message = f"the {what} of row {number} is nearly the same: '{other}'"
                yield row.problem(
                    columns[-1],
                    "KEY-1",
                    message,
                    "give each row its own, or remove the one that is too many",
                    found=key.replace("/", " / "),
                )


def _as_seen(key: str) -> str:
    """A key as an eye or a spreadsheet takes it."""
    if not key.isascii():
        key = unicodedata.normalize("NFKC", key)
    plain = key.casefold()
    match = _WHOLE_NUMBER.fullmatch(plain) if plain[:1].isdigit() else None
    return match[1] if match else plain


def check_references(tables: Tables) -> Iterator[Problem]:
    """REF-1: a name that is not in the table that the column refers to."""
    asked: Counter[tuple[str, str]] = Counter()
    for row, column, name in tables.lost_refs():
        there = column.ref_table or ""
        if not tables.known(there):
            continue
        asked[row.table, column.column] += 1
        cure = f"add it to {there}"
        # The nearest name is looked for as often as problems of a column are shown.
        if asked[row.table, column.column] <= MOST_SHOWN_PER_COLUMN:
            cure = did_you_mean(name, sorted(tables.ids(there)), cure)
        yield row.problem(
            column.column, "REF-1", f"there is no '{name}' in the table {there}", cure
        )


def check_pairs(tables: Tables) -> Iterator[Problem]:
    """PAIR-1: a lower or earlier value that is above the higher or later one."""
    for table, low, high in PAIRS:
        rows = tables.rows(table)
        columns = [rows[0].cells.values.get(name, ()) if rows else () for name in (low, high)]
        # A large office has hundreds of thousands of rows, most of them blank here.
        for row, first, second in zip(rows, *columns, strict=False):
            blank = first is None or second is None
            if not blank and row.good(low, high) and _above(first, second):
                kind = columns_of(table)[high].kind
                where = "before" if kind in ("time", "date") else "below"
                yield row.problem(
                    high,
                    "PAIR-1",
                    f"this is {where} {low} ({row.written(low)})",
                    f"check both; {low} comes first",
                )


def _above(first: object, second: object) -> bool:
    if isinstance(first, Rate) and isinstance(second, Rate):
        like = (first.kind, first.basis, first.substance)
        # Pairs that a label states in two units may differ by rounding.
        return like == (second.kind, second.basis, second.substance) and (
            first.least_base > second.most_base * 1.005
        )
    return bool(first > second)  # type: ignore[operator]


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
                cure = grass_cure(name, names, "write one of: " + ", ".join(names))
                message = "no lawn has this grass, and the planner does not know the name"
                yield row.problem(column, "GRASS-3", message, cure, found=name)


def grass_cure(name: str, names: Sequence[str], otherwise: str) -> str:
    """What a grass that nobody knows may have meant. names: others that would do."""
    near = grasses_like(name)
    if near:
        return f"did you mean {' or '.join(repr(one) for one in near)}?"
    return did_you_mean(name, names, otherwise)


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
    """COMP-3, COMP-4, COMP-7: a heel, a leftover or a mark of the gauge that the compartment cannot
    hold."""
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
        step = row.number_or_none("gauge_step_gal")
        if step is not None and step > capacity:
            yield row.problem(
                "gauge_step_gal",
                "COMP-7",
                f"the compartment holds only {capacity:g} gal, so its gauge would have no mark",
                "write the gallons from one mark to the next, or nothing for the usual step",
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
