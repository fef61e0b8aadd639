"""Rows of the actuals sheet, the plan and earlier records -> what is to be recorded, still bare.

An `Entry` is one step of the plan with the figures that count for it. Everything blank is settled
here: from the record that a correction changes, from the plan where the office says 'as planned',
from the truck's row for the applicator, from the day's conditions for the weather.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from planner.day.day import Workbook
from planner.day.fleet import Called, Truck, people_named
from planner.problems import Problem
from planner.records.current import SPRAYED, kind_of
from planner.records.day_log import LoggedTruckDay, Step
from planner.records.needed import STATED, blanks, spans, unlogged
from planner.records.parts import Body
from planner.records.sheet import COLUMNS, FILL, LEFT, NAMED_BY, SPRAY, Actual
from planner.records.store import Event
from planner.records.told import called_of, calls_about, to_tell

PLAN_FILE: Final = "plan.json"
"""Where the plan itself speaks, this is named instead of the sheet."""

SAME_BLANKS: Final = 3
"""More rows with the same blank than this are told as one."""

READ_THERE: Final = "read by the crew on the property"
ONE_READING: Final = "one reading for the whole day"
"""Where a record's wind and temperature come from."""


@dataclass(frozen=True)
class Conditions:
    """Weather of the whole day, for rows that name none."""

    wind_mph: float | None = None
    wind_from: str | None = None
    temperature_f: float | None = None


@dataclass(frozen=True)
class Manner:
    """How a sheet is taken. as_planned: what is blank or not in the sheet went as planned;
    correct: rows change what is recorded; conditions: of the day; superseded_by: checksum of the
    day's plan of record, when another plan is recorded all the same; sign, notice: what somebody
    says of all signs and notices that were asked and of which the sheet says nothing."""

    as_planned: bool = False
    correct: bool = False
    conditions: Conditions = Conditions()
    superseded_by: str = ""
    sign: bool | None = None
    notice: bool | None = None


@dataclass(frozen=True)
class Entry:
    """One step that is to be recorded. truck: its planned day; actual: with its blanks settled;
    before: the record that it corrects; days_weather: the wind is the whole day's one reading;
    to_tell: the registered people who were to be told of it; gal_as_planned: it is a fill whose
    gallons nobody stated."""

    truck: LoggedTruckDay
    step: Step
    actual: Actual
    before: Event | None = None
    days_weather: bool = False
    to_tell: tuple[Body, ...] = ()
    gal_as_planned: bool = False


def entries(
    trucks: Iterable[LoggedTruckDay],
    rows: Sequence[Actual],
    known: Mapping[str, Event],
    book: Workbook,
    manner: Manner,
    date: str,
) -> tuple[list[Entry], list[Problem], frozenset[str]]:
    """What the sheet tells of the planned day, what is wrong in it on its face (REC-1 to REC-4,
    REC-10 and REC-12), and the trucks of which something is wrong: their levels cannot be followed.
    known: subject -> its last record, calls among them; date: the day's (ISO)."""
    log = called_of(known.values())
    by_key = {_key_of(truck, step): (truck, step) for truck in trucks for step in truck.steps}
    found: dict[str, Actual] = {}
    problems: list[Problem] = []
    for row in rows:
        place = by_key.get(_key(row))
        if place is None:
            problems.append(_stranger(row))
        elif (subject := place[1].subject) in found:
            first = found[subject].number
            cure = f"keep one of the two; row {first} is the other"
            problems.append(
                row.problem(None, "REC-2", "this fill, order or level is in the sheet twice", cure)
            )
        else:
            found[subject] = row
    result: list[Entry] = []
    blanks: list[Problem] = []
    unsettled = {row.truck for row in rows if _key(row) not in by_key}
    for truck, step in by_key.values():
        told = _owed(step, book, date)
        entry, wrong = _entry(truck, step, found.get(step.subject), known, book, manner, told, log)
        blanks += wrong
        if wrong:
            unsettled.add(truck.truck_id)
        if entry is not None:
            result.append(entry)
    return result, [*problems, *_told_once(blanks)], frozenset(unsettled)


def _told_once(problems: Sequence[Problem]) -> Iterator[Problem]:
    """The same blank in many rows is one thing to do: it is told once, with its rows."""
    groups: dict[tuple[str, str | None, str, str], list[Problem]] = {}
    for one in problems:
        file = one.file if one.row is not None else PLAN_FILE
        key = (file, one.column, one.message, one.cure)
        groups.setdefault(key, []).append(one)
    for (file, column, message, cure), rows in groups.items():
        many = len(rows) > (SAME_BLANKS if rows[0].row is not None else 1)
        if rows[0].code != "REC-3" or rows[0].found or not many:
            yield from rows
            continue
        where = ""
        if rows[0].row is not None:
            shown = ", ".join(str(one.row) for one in rows[:SAME_BLANKS])
            where = f" (rows {shown} and {len(rows) - SAME_BLANKS} more)"
        message = f"{len(rows)} records: {message}{where}"
        yield Problem(file, None, column, "REC-3", message, "", cure)


def _entry(
    truck: LoggedTruckDay,
    step: Step,
    row: Actual | None,
    known: Mapping[str, Event],
    book: Workbook,
    manner: Manner,
    told: tuple[Body, ...],
    log: Sequence[Called],
) -> tuple[Entry | None, list[Problem]]:
    before = known.get(step.subject)
    read = row is not None and row.level_read_gal is not None and not manner.as_planned
    if row is None or not (_told(row) or read or (manner.correct and _states(row))):
        # A level that nobody read is worked out, so that 'as planned' invents no reading.
        if not manner.as_planned or before is not None or step.what == LEFT:
            return None, []
        # Where no row of a sheet can be named, the plan's order or fill is.
        file = f"{PLAN_FILE}, {step.subject}"
        row = row or Actual(file, None, truck.truck_id, step.what, step.stop)
        row = replace(row, order=step.order_id, compartment=step.compartment_id, done=True)
    if before is not None and not manner.correct:
        said = f"it was recorded on {before.recorded_at[:10]} by {before.recorded_by}"
        cure = "take the row out, or record with --correct and say why"
        return None, [row.problem(None, "REC-10", said, cure)]
    if before is None and manner.correct:
        cure = "record it without --correct"
        return None, [row.problem(None, "REC-12", "there is no record to correct", cure)]
    own_wind = row.wind_mph is not None
    gal_as_planned = manner.as_planned and step.what == FILL and row.gal is None
    row = _settled(row, step, before, truck, book, manner)
    # Nobody states a sign or a notice by saying that the rest went as planned, or by correcting
    # something else: then the record holds that nobody did.
    open_to = STATED if manner.as_planned or _is_sprayed(before) else ()
    problems = list(blanks(row, step, book, open_to)) + list(spans(row))
    if row.done and not open_to:
        problems += unlogged(row, told, log, book.properties[step.place_id].address if told else "")
    if problems:
        return None, problems
    days_weather = not own_wind and row.wind_mph is not None
    if before is not None and not own_wind:
        days_weather = before.body.get("weather_source") == ONE_READING
    return Entry(truck, step, row, before, days_weather, told, gal_as_planned), []


def _key_of(truck: LoggedTruckDay, step: Step) -> tuple[Any, ...]:
    if step.what == SPRAY:
        return SPRAY, truck.truck_id, step.order_id
    if step.what == LEFT:
        return LEFT, truck.truck_id, step.compartment_id
    return FILL, truck.truck_id, step.compartment_id, step.stop


def _key(row: Actual) -> tuple[Any, ...]:
    if row.what == SPRAY:
        return SPRAY, row.truck, row.order
    if row.what == LEFT:
        return LEFT, row.truck, row.compartment
    return FILL, row.truck, row.compartment, row.stop


def _stranger(row: Actual) -> Problem:
    if row.what == SPRAY:
        column, message = "order", f"the plan has no such order on truck {row.truck}"
    elif row.what == LEFT:
        column, message = "compartment", f"the plan loads no such compartment of truck {row.truck}"
    else:
        column = "stop"
        message = f"the plan fills no compartment {row.compartment} of truck {row.truck} there"
    return row.problem(column, "REC-1", message, "write it as the printed sheet has it")


_TOLD = ("done", "area_ft2", "gal", "start", "end", "wind_mph", "temperature_f")


def _told(row: Actual) -> bool:
    return any(getattr(row, name) is not None for name in _TOLD)


def _states(row: Actual) -> bool:
    return any(getattr(row, name) is not None for name in STATED)


def _is_sprayed(before: Event | None) -> bool:
    return before is not None and kind_of(before) == SPRAYED


def _settled(
    row: Actual,
    step: Step,
    before: Event | None,
    truck: LoggedTruckDay,
    book: Workbook,
    manner: Manner,
) -> Actual:
    if row.done is None and step.what != SPRAY and row.gal is not None:
        row = replace(row, done=True)
    if before is not None:
        row = _with_blanks_from(row, before)
    if not row.done:
        return row
    if manner.as_planned:
        row = _as_planned(row, step, book)
    if row.area_ft2 is None and step.what == SPRAY:
        # Lawns are treated whole unless the crew says otherwise.
        row = replace(row, area_ft2=step.area_ft2)
    if step.what != SPRAY:
        return row
    day = manner.conditions
    person = book.trucks[truck.truck_id]
    home = book.properties.get(step.place_id)
    return replace(
        row,
        sign=manner.sign if row.sign is None and home is not None and home.sign else row.sign,
        notice=manner.notice
        if row.notice is None and home is not None and home.notice
        else row.notice,
        wind_mph=day.wind_mph if row.wind_mph is None else row.wind_mph,
        wind_from=row.wind_from or day.wind_from,
        temperature_f=day.temperature_f if row.temperature_f is None else row.temperature_f,
        applicator=row.applicator or person.applicator,
        license=row.license or _license(row, step, person, book),
        supervisor=row.supervisor or ("" if row.applicator else person.supervisor),
    )


def _license(row: Actual, step: Step, truck: Truck, book: Workbook) -> str:
    """Numbers that are good in the state of the property."""
    if not row.applicator and truck.applicator_license:
        return truck.applicator_license
    home = book.properties.get(step.place_id)
    state = (home.state if home is not None else "") or book.settings.state
    crew = people_named(row.applicator or truck.applicator, book.applicators)
    if not row.applicator and not any(one.license.strip() for one in crew):
        crew = people_named(truck.supervisor, book.applicators)
    numbers = (one.license for one in crew if one.good_in(state.upper()))
    return ", ".join(dict.fromkeys(filter(None, numbers)))


KEPT: Final = {name: name for name in COLUMNS if name not in (*NAMED_BY, "sure", "plan")} | {
    "start": "start_min",
    "end": "end_min",
    "sign": "sign_up",
    "notice": "notice_given",
    "neighbors": "neighbors_said",
}
"""Column of the sheet -> field of a record."""


def _with_blanks_from(row: Actual, before: Event) -> Actual:
    """A correction changes what is written in its row; everything else stays as recorded."""
    told: dict[str, Any] = {}
    for column, name in KEPT.items():
        old = before.body.get(name)
        if getattr(row, column) in (None, "") and old is not None:
            told[column] = old
    if row.applicator and not row.license:
        # Another person has another number.
        told.pop("license", None)
    if row.sure is None and before.body.get("confirmed"):
        told["sure"] = True
    return replace(row, **told)


def _as_planned(row: Actual, step: Step, book: Workbook) -> Actual:
    row = replace(row, gal=step.gal if row.gal is None else row.gal)
    if step.what != SPRAY:
        return row
    return replace(
        row,
        start=step.start_min if row.start is None else row.start,
        end=step.end_min if row.end is None else row.end,
    )


def _owed(step: Step, book: Workbook, date: str) -> tuple[Body, ...]:
    if step.what != SPRAY:
        return ()
    return to_tell(calls_about(book, date, step.order_id, step.place_id, step.start_min))
