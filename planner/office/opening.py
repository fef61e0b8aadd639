"""Opening a day for the office: its plan, its journal, everything kept ready in memory."""

import gc
import hashlib
from datetime import date, timedelta
from pathlib import Path

from planner.by_hand.sheet import OUT_BY_HAND
from planner.chain import DayRoads, open_day, open_day_of, open_day_roads, read_plan, without_later
from planner.day.day import Day, Workbook, day_of
from planner.day.fleet import Truck
from planner.day.life import LONGEST_SEARCH_DAYS, standings
from planner.office.journal import Journal
from planner.office.open_day import SharedDay
from planner.office.publishing import Papers
from planner.office.ready import OfficeDay
from planner.office.tables import OfficeTables
from planner.outputs.local_folder import state_folder
from planner.plan.assemble import Origin, make_plan
from planner.plan.document import from_json
from planner.plan.model import Plan
from planner.prepare import prepare_day
from planner.problems import PlannerError
from planner.records.plans import plan_of_record, plans_of_record, text_of
from planner.routing.loading.allowed import loading_as_it_is
from planner.routing.problem import Route, Solution
from planner.weeks.share import share_of


class NothingDue(PlannerError):
    """A day without due orders. next_day: the next one with some, None = there is none."""

    def __init__(self, when: date, next_day: date | None) -> None:
        self.next_day = next_day
        cure = f"the next day with due orders is {next_day}: name it with --date"
        if next_day is None:
            cure = "no order is due later either; write orders, or make the next rounds' with "
            cure += "`planner rounds WORKBOOK --write`"
        super().__init__(f"no order is due on {when}; {cure}")


NOBODY_YET = "by hand"
"""Stands as engine in the plan of a day that nobody has planned yet."""


def journal_file(workbook: Path, when: date, of: str = "") -> Path:
    """Where the steps of a workbook's day are kept, on this machine. of: '-tables' for what was
    written into its tables while that day was open."""
    where = hashlib.sha256(str(workbook.resolve()).encode()).hexdigest()[:12]
    return state_folder() / "days" / f"{workbook.stem}-{when.isoformat()}{of}-{where}.sqlite"


def date_of_office(when: date | None, plan_file: Path | None) -> date:
    """The day that is to be opened. Raises PlanFileError, and PlannerError where it is not said."""
    found = when if plan_file is None else read_plan(plan_file)[1]
    if found is None:
        raise PlannerError("name the day with --date, or a plan with --plan")
    return found


def open_tables(workbook: Path, when: date) -> OfficeTables:
    """The tables to be edited, with what may be taken back. Raises JournalError."""
    return OfficeTables(workbook, Journal(journal_file(workbook, when, "-tables")))


def open_office(
    workbook: Path,
    when: date | None,
    plan_file: Path | None,
    extract: Path | None,
    out: Path | None = None,
) -> SharedDay:
    """The day with the plan of that file, else with its plan of record, else with nothing
    planned yet. when: None = the plan file's day.

    out: folder that is printed into, None = planned-DATE here.

    Raises WorkbookError, RoadError, PlanFileError, StoreError, JournalError.
    """
    found = date_of_office(when, plan_file)
    plan = None if plan_file is None else read_plan(plan_file)[0]
    if when is not None and found != when:
        raise PlannerError(f"{plan_file} is a plan of {found}, not of {when}")
    if plan is None:
        kept = plan_of_record(workbook, found.isoformat())
        plan = None if kept is None else from_json(text_of(workbook, kept))
    of_record = plan
    day, roads, plan = _ready(workbook, found, of_record, extract)
    journal = Journal(journal_file(workbook, found))
    papers = Papers(workbook, found.isoformat(), out or Path(f"planned-{found.isoformat()}"))

    def reopen() -> OfficeDay:
        # A day without a plan of record takes what the calendar says of it by now.
        changed = of_record is None and later() != opened.later
        return OfficeDay(*_ready(workbook, found, None if changed else plan, extract))

    def later() -> frozenset[str]:
        return frozenset() if of_record else laid_later_of(workbook, found)

    opened = SharedDay(OfficeDay(day, roads, plan), journal, workbook, papers, reopen, later)
    # What is open lives as long as the process: the collector need not look at it again and again.
    gc.collect()
    gc.freeze()
    return opened


def _ready(
    workbook: Path, when: date, plan: Plan | None, extract: Path | None
) -> tuple[Day, DayRoads, Plan]:
    if plan is not None:
        day = open_day_of(workbook, plan)
        return day, open_day_roads(workbook, day, extract), plan
    day = open_day(workbook, when)
    if not day.orders:
        raise NothingDue(when, next_due(day.workbook, when))
    # As `planner plan` begins: with the day's share, unless all of it lies later.
    share = without_later(day, laid_later_of(workbook, when))
    day = share if share.orders else day
    roads = open_day_roads(workbook, day, extract)
    return day, roads, empty_plan(day, roads)


def laid_later_of(workbook: Path, when: date) -> frozenset[str]:
    """Orders that the calendar that stands has for later days; none where it cannot be read, which
    the page of the weeks tells."""
    try:
        share = share_of(workbook, when)
    except PlannerError:
        return frozenset()
    return frozenset() if share is None else share.later


def next_planned(workbook: Path, when: date) -> date | None:
    """The first day after this one that has a plan of record; None = there is none. Raises
    StoreError."""
    since = (when + timedelta(days=1)).isoformat()
    days = plans_of_record(workbook, since)
    return next((date.fromisoformat(day) for day, row in days.items() if row.of_record), None)


def next_due(book: Workbook, when: date) -> date | None:
    """The next day on which an order is due; None = nobody can tell."""
    last = max([when, *(order.due_from for order in book.orders.values())])
    last += timedelta(days=LONGEST_SEARCH_DAYS)
    while True:
        later = [
            day
            for name, one in standings(book.orders, book.properties, when).items()
            for day in (one.next_day, book.orders[name].due_from)
            if day is not None and when < day <= last
        ]
        if not later:
            return None
        when = min(later)
        if day_of(book, when).orders:
            return when


def empty_plan(day: Day, roads: DayRoads) -> Plan:
    """Every truck in its yard, every order out of the day: a plan to begin with."""
    prepared = prepare_day(day)
    routes = tuple(
        Route(name, loading_as_it_is(day.workbook, truck, prepared.apart, _nothing(truck)), ())
        for name, truck in day.workbook.trucks.items()
    )
    words = (OUT_BY_HAND, "the day is not planned yet")
    origin = Origin(0, "count 0", NOBODY_YET, roads.roads.description, roads.roads.warning)
    answer = Solution(routes, dict.fromkeys(prepared.free, words))
    return make_plan(prepared, answer, roads.travel_by_truck, origin)


def _nothing(truck: Truck) -> tuple[None, ...]:
    return (None,) * len(truck.compartments)
