"""The office's own rules of its county and towns: what a row must say, and the rule made of it."""

from collections.abc import Iterator
from datetime import date
from typing import Final

from planner.day.day import DutyRule, FertilizerRule, RuleSource
from planner.day.orders import GROUND_STATES
from planner.problems import Problem
from planner.tables.rows import Row, Tables
from planner.tables.text import did_you_mean

_POUNDS: Final = ("total N", "readily available N", "P2O5", "P")
_LAWNS: Final = ("products", "lawn", "grass", "first", "last")
_AMOUNT: Final = (*_LAWNS, "basis", "figure", "slow_percent_least", "instead_of")
_DUTY: Final = (
    "who",
    "applies_to",
    "when",
    "lead_hours",
    "lead_most_hours",
    "lead_business_days",
    "stays_hours",
    "stays_until",
    "only_if",
)
_ALWAYS: Final = ("rule", "state", "county", "town", "kind", "words", "section", "read", "url")

READS: Final = {
    "closed season": (*_LAWNS, "basis", "over"),
    "most per application": _AMOUNT,
    "most per year": (*_LAWNS, "basis", "figure"),
    "least slow share": (*_LAWNS, "figure", "over"),
    "phosphorus ban": (*_LAWNS, "figure", "test_years"),
    "setback": ("lawn", "basis", "figure", "instead_of"),
    "caution": ("lawn", "grass", "first", "last", "ground"),
    "sign": _DUTY,
    "notice": _DUTY,
    "information": _DUTY,
    "none": (),
}
"""Kind of rule -> columns that it reads, beside those that every rule has."""

NEEDS: Final = {
    "closed season": ("first", "last"),
    "most per application": ("basis", "figure"),
    "most per year": ("basis", "figure"),
    "least slow share": ("figure",),
    "phosphorus ban": ("words",),
    "setback": ("figure",),
    "caution": ("words",),
    "sign": ("words",),
    "notice": ("who", "words"),
    "information": ("words",),
    "none": (),
}
"""Kind of rule -> columns without which it says nothing."""

DUTY_KINDS: Final = ("sign", "notice", "information", "none")


def local_fertilizer_rules(rows: list[Row], state: str) -> tuple[FertilizerRule, ...]:
    """The rows about fertilizer. state: of the settings, for rows that name none."""
    return tuple(
        FertilizerRule(
            rule_id=_name(row.text("rule")),
            state=(row.text("state") or state).upper(),
            county=row.text("county"),
            town=row.text("town"),
            local=True,
            kind=row.text("kind"),
            who="anyone",
            products=row.text("products"),
            lawn=row.text("lawn"),
            basis=_basis(row),
            figure=_figure(row),
            unit="",
            over=row.number_or_none("over"),
            slow_percent_least=row.number_or_none("slow_percent_least"),
            instead_of=_name(row.text("instead_of")),
            first=row.value("first"),  # type: ignore[arg-type]
            last=row.value("last"),  # type: ignore[arg-type]
            grass=row.text("grass"),
            test_years=row.number_or_none("test_years"),
            ground=tuple(item.casefold() for item in row.items("ground")),
            words=row.text("words").rstrip("."),
            origin=_origin(row),
        )
        for row in rows
        if row.text("kind") not in DUTY_KINDS
    )


def local_duty_rules(rows: list[Row], state: str) -> tuple[DutyRule, ...]:
    """The rows about signs, notices and information, and those that say there is no rule."""
    return tuple(
        DutyRule(
            duty_id=_name(row.text("rule")),
            state=(row.text("state") or state).upper(),
            counties=(row.text("county"),) if row.text("county") else (),
            town=row.text("town"),
            local=True,
            kind=row.text("kind"),
            who=row.text("who"),
            applies_to=row.text("applies_to"),
            when=row.text("when"),
            lead_hours=row.number_or_none("lead_hours"),
            lead_most_hours=row.number_or_none("lead_most_hours"),
            lead_business_days=int(row.number_or_none("lead_business_days") or 0) or None,
            stays_hours=row.number_or_none("stays_hours"),
            stays_until=row.text("stays_until"),
            only_if=row.text("only_if"),
            words=row.text("words").rstrip("."),
            origin=_origin(row),
        )
        for row in rows
        if row.text("kind") in DUTY_KINDS
    )


def _name(rule: str) -> str:
    """Apart from the names of the states' rules."""
    return f"local {rule}" if rule else ""


def _basis(row: Row) -> str:
    usual = {"phosphorus ban": "P2O5", "least slow share": "total N", "caution": ""}
    return row.text("basis") or usual.get(row.text("kind"), "N, P or K")


def _figure(row: Row) -> float | None:
    figure = row.number_or_none("figure")
    return 0.0 if figure is None and row.text("kind") == "phosphorus ban" else figure


def _origin(row: Row) -> RuleSource:
    read = row.value("read")
    when = read if isinstance(read, date) else None
    return RuleSource(row.text("section"), when, row.text("url"))


def check_local_rules(tables: Tables) -> Iterator[Problem]:
    """LOCAL-1: a rule without what its kind needs. LOCAL-2: a cell that its kind does not read,
    or a word that it does not know; it would be passed over silently."""
    rows = {row.text("rule"): row for row in tables.rows("local_rules")}
    for row in tables.rows("local_rules"):
        kind = row.text("kind")
        if not row.text("county") and not row.text("town") and row.good("county", "town"):
            cure = "write the county, or the town, whose rule it is"
            yield row.problem("county", "LOCAL-1", "the rule is of no county or town", cure)
        for column in NEEDS.get(kind, ()):
            if row.good(column) and row.written(column) == "":
                message = f"a rule of the kind {kind} needs this"
                yield row.problem(column, "LOCAL-1", message, "write what the ordinance says")
        for column in row.cells.texts if kind in READS else ():
            unread = column not in _ALWAYS and column not in READS[kind]
            if unread and row.written(column):
                message = f"a rule of the kind {kind} does not read this"
                cure = "leave it blank, or put it into words"
                yield row.problem(column, "LOCAL-2", message, cure)
        yield from _unknown_words(row, rows)


def _unknown_words(row: Row, rows: dict[str, Row]) -> Iterator[Problem]:
    kind, basis = row.text("kind"), row.text("basis")
    weighed = kind.startswith("most per") or row.value("over") is not None
    if weighed and kind != "least slow share" and basis not in _POUNDS and row.good("basis"):
        cure = "write one of: " + ", ".join(_POUNDS)
        yield row.problem("basis", "LOCAL-2", "pounds cannot be counted of this", cure)
    for state in row.items("ground"):
        if state.casefold() not in GROUND_STATES:
            cure = did_you_mean(state, GROUND_STATES, "write of: " + ", ".join(GROUND_STATES))
            yield row.problem("ground", "LOCAL-2", "this is no state of the ground", cure, state)
    first, last = row.written("first"), row.written("last")
    if kind != "closed season" and row.good("first", "last") and (first == "") != (last == ""):
        blank = "last" if first else "first"
        yield row.problem(blank, "LOCAL-1", "a season has two ends", "write this one, too")
    other = rows.get(row.text("instead_of"))
    if other is not None and (other.text("kind") != kind or other.text("instead_of")):
        cure = f"name a rule of the kind {kind} that goes before no other"
        yield row.problem("instead_of", "LOCAL-2", "its figure cannot replace that one's", cure)
