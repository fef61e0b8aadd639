"""What the office says of a running day, and what of it cannot be."""

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from math import ceil
from typing import Final

from planner.day.clock import clock_text
from planner.day.day import Day
from planner.day.orders import Status
from planner.plan.model import Plan
from planner.problems import Problem, WorkbookError
from planner.tables.clock_cells import read_time
from planner.tables.text import CellError, clean, did_you_mean


class AgainError(WorkbookError):
    """Re-plan options that cannot be met; carries every problem found."""

    place = "the re-plan options"


DOWN: Final = "down"
A_DAY_MIN: Final = 1440.0


@dataclass(frozen=True)
class Said:
    """What the office says. at_min: the moment from which the day is planned again; done, opened,
    skipped, added: orders; down: trucks that do nothing more; free_min: trucks that go on later;
    filled: trucks that have not left stand filled as planned."""

    at_min: float
    done: tuple[str, ...] = ()
    opened: tuple[str, ...] = ()
    skipped: tuple[str, ...] = ()
    added: tuple[str, ...] = ()
    down: tuple[str, ...] = ()
    free_min: dict[str, float] | None = None
    filled: bool = False

    @property
    def later(self) -> dict[str, float]:
        """Trucks that go on later, with their minute."""
        return self.free_min or {}


def names_in(texts: Collection[str]) -> tuple[str, ...]:
    """Short names out of options: 'O1, O2' and 'O3' are three, each once."""
    names = (clean(part) for text in texts for part in text.split(","))
    return tuple(dict.fromkeys(name for name in names if name))


def read_said(
    at: str | None,
    *,
    done: Collection[str] = (),
    opened: Collection[str] = (),
    skipped: Collection[str] = (),
    added: Collection[str] = (),
    trucks: Collection[str] = (),
    filled: bool = False,
) -> tuple[Said, list[Problem]]:
    """Options as a person wrote them. trucks: 'T3=down' or 'T2=12:10'. What cannot be read stands
    in the problems and is left out."""
    problems: list[Problem] = []
    at_min = _time("--at", at or "", problems)
    down: list[str] = []
    free_min: dict[str, float] = {}
    for text in names_in(trucks):
        name, _, state = (clean(part) for part in text.partition("="))
        if name in down or name in free_min:
            problems.append(
                _problem(
                    "--truck", "AGAIN-4", f"truck '{name}' is named twice", text, "say it once"
                )
            )
        elif state.casefold() == DOWN:
            down.append(name)
        elif not state:
            problems.append(
                _problem(
                    "--truck",
                    "AGAIN-3",
                    "it does not say what the truck is",
                    text,
                    f"write {name}=down, or {name}=12:10 for the time from which it goes on",
                )
            )
        else:
            minute = _time("--truck", state, problems)
            if minute is not None:
                free_min[name] = minute
    said = Said(
        at_min=at_min or 0.0,
        done=names_in(done),
        opened=names_in(opened),
        skipped=names_in(skipped),
        added=names_in(added),
        down=tuple(down),
        free_min=free_min,
        filled=filled,
    )
    return said, problems


def check_said(said: Said, earlier: Plan, today: Day) -> list[Problem]:
    """Everything that is wrong in what is said, apart from what the clock knows. today: the day as
    the tables have it now."""
    return [
        *_times(said, earlier, today),
        *_orders(said, earlier, today),
        *_contradictions(said),
        *_trucks(said, earlier, today),
        *_gone(earlier, today),
    ]


def check_date(earlier: Plan, wanted: str) -> list[Problem]:
    """That the earlier plan is of the day that is asked for (ISO date)."""
    if earlier.date == wanted:
        return []
    message = f"the earlier plan is of {earlier.date}, the day to plan again is {wanted}"
    cure = f"leave --date out, or name the plan of {wanted}"
    return [_problem("--again", "AGAIN-2", message, earlier.date, cure)]


def already_done(said: Said, done: Collection[str]) -> list[Problem]:
    """Orders that are to be left out although they are done. done: orders that are."""
    return [
        _problem(
            "--skip",
            "AGAIN-5",
            f"order '{name}' is done by then, or the crew is on its way there",
            name,
            f"write --open {name} as well if it was not done",
        )
        for name in said.skipped
        if name in done
    ]


def kept_out(done: Collection[str], day: Day) -> list[Problem]:
    """Orders that are done by then, and that the tables keep out of the day since."""
    return [
        _problem(
            "--again",
            "AGAIN-6",
            f"order '{name}' is done by then, or the crew is on its way there; the tables keep it "
            "out of the day",
            name,
            f"put its row back as it was, or write --open {name} if it was not done",
        )
        for name in sorted(done)
        if name not in day.orders
    ]


def not_left(truck_id: str, leaves_min: float, orders: Collection[str]) -> list[Problem]:
    """Orders said to be done by a truck that has not left."""
    return [
        _problem(
            "--done",
            "AGAIN-5",
            f"truck {truck_id} leaves at {clock_text(leaves_min)} only",
            name,
            "check --at and the order's number",
        )
        for name in orders
    ]


def recorded_later(said: Said, recorded: Collection[tuple[float, str, str]]) -> list[Problem]:
    """That the day is planned again from before what its records tell. recorded: begin, truck and
    order of what was sprayed; a begin within the minute of --at is none."""
    begin, truck_id, name = max(recorded, default=(0.0, "", ""))
    if begin < said.at_min + 1.0:
        return []
    message = (
        "records of the day tell what was sprayed after it, the last "
        f"{truck_id}'s order {name}, begun at {clock_text(begin)}"
    )
    cure = (
        f"write {clock_text(ceil(begin))} or later, or correct the record "
        "(planner record --correct)"
    )
    return [_problem("--at", "AGAIN-3", message, clock_text(said.at_min), cure)]


def _problem(option: str, code: str, message: str, found: str, cure: str) -> Problem:
    return Problem(option, None, None, code, message, found, cure)


def _time(option: str, text: str, problems: list[Problem]) -> float | None:
    try:
        return read_time(clean(text))
    except CellError as error:
        problems.append(_problem(option, "AGAIN-3", error.message, text, error.cure))
        return None


def _times(said: Said, earlier: Plan, today: Day) -> Iterator[Problem]:
    trucks = today.workbook.trucks.values()
    ends = max((truck.latest_return_min for truck in trucks), default=A_DAY_MIN)
    at = clock_text(said.at_min)
    if said.at_min >= ends:
        message = f"every truck must be back by {clock_text(ends)}: nothing is left to plan"
        yield _problem("--at", "AGAIN-3", message, at, "check the time, or plan tomorrow")
    if earlier.again is not None and said.at_min < earlier.again.at_min:
        before = clock_text(earlier.again.at_min)
        message = f"the earlier plan was itself made again at {before}"
        yield _problem("--at", "AGAIN-3", message, at, f"write {before} or later")
    for name, minute in said.later.items():
        truck = today.workbook.trucks.get(name)
        if minute < said.at_min:
            message = f"truck {name} is free before the day is planned again at {at}"
            cure = "leave it out: a truck is free when its last stop that is done is over"
            yield _problem("--truck", "AGAIN-3", message, clock_text(minute), cure)
        elif truck is not None and minute >= truck.latest_return_min:
            message = f"truck {name} must be back by {clock_text(truck.latest_return_min)}"
            yield _problem("--truck", "AGAIN-3", message, clock_text(minute), f"write {name}=down")


def _orders(said: Said, earlier: Plan, today: Day) -> Iterator[Problem]:
    planned = {
        work.order_id for truck in earlier.trucks for stop in truck.stops for work in stop.orders
    }
    due = set(today.orders)
    parts = {name: one.part_of for name, one in today.orders.items() if one.part_of}
    every = today.workbook.orders
    for option, names in (("--done", said.done), ("--open", said.opened)):
        for name in names:
            if name in planned:
                continue
            if name in every:
                yield _problem(
                    option,
                    "AGAIN-5" if option == "--done" else "AGAIN-1",
                    f"no truck has order '{name}' in the earlier plan",
                    name,
                    "only orders of that plan can be done or open",
                )
            else:
                yield _unknown(option, name, planned)
    for option, names in (("--skip", said.skipped), ("--add", said.added)):
        for name in names:
            if name in parts or name in parts.values():
                yield _problem(
                    option,
                    "AGAIN-4",
                    f"order '{parts.get(name, name)}' is done in parts",
                    name,
                    "a running day neither takes such an order in nor leaves it out; put it on "
                    "hold in the orders table, or plan the day anew",
                )
    for name in said.skipped:
        if name not in {*due, *planned, *parts.values()}:
            yield _unknown("--skip", name, due | planned)
    for name in said.added:
        if name not in every and name not in parts.values():
            yield _unknown("--add", name, set(every))
        elif name in every and every[name].status is Status.CANCELLED:
            message = f"order '{name}' is cancelled in the tables"
            yield _problem("--add", "AGAIN-4", message, name, "clear its status in orders first")


def _unknown(option: str, name: str, known: Collection[str]) -> Problem:
    cure = did_you_mean(name, sorted(known), "see the orders table for its number")
    return _problem(option, "AGAIN-1", "there is no such order", name, cure)


def _contradictions(said: Said) -> Iterator[Problem]:
    for one, mine, other, its in (
        ("--done", said.done, "--open", said.opened),
        ("--done", said.done, "--skip", said.skipped),
        ("--done", said.done, "--add", said.added),
        ("--skip", said.skipped, "--add", said.added),
    ):
        for name in mine:
            if name in its:
                message = f"order '{name}' stands under {one} and under {other}"
                yield _problem(one, "AGAIN-4", message, name, "leave it in one of them")


def _trucks(said: Said, earlier: Plan, today: Day) -> Iterator[Problem]:
    known = today.workbook.trucks
    went_out = {planned.truck_id for planned in earlier.trucks if planned.stops}
    for name in (*said.down, *said.later):
        if name in today.barred:
            # Of one that went out `_gone` tells.
            if name not in went_out:
                message = f"truck '{name}' stays in the yard today: {today.barred[name]}"
                yield _problem("--truck", "AGAIN-4", message, name, "leave it out")
        elif name not in known:
            cure = did_you_mean(name, list(known), "see the trucks table")
            yield _problem("--truck", "AGAIN-1", "there is no such truck in service", name, cure)


def _gone(earlier: Plan, today: Day) -> Iterator[Problem]:
    """Names of the earlier plan that the tables must still hold, for what is done stays in the
    plan."""
    book = today.workbook

    def gone(table: str, key: str, cure: str) -> Problem:
        message = f"the earlier plan names '{key}', which is not in the table {table}"
        return _problem("--again", "AGAIN-6", message, key, cure)

    for planned in earlier.trucks:
        if not planned.stops:
            continue
        truck = book.trucks.get(planned.truck_id)
        if (why := today.barred.get(planned.truck_id)) is not None:
            message = f"truck '{planned.truck_id}' went out, and stays in the yard by now: {why}"
            cure = (
                "write its papers and its out_on as they were this morning (out_on from tomorrow), "
                f"and --truck {planned.truck_id}=down"
            )
            yield _problem("--again", "AGAIN-6", message, planned.truck_id, cure)
            continue
        if truck is None:
            cure = f"leave it in service and write --truck {planned.truck_id}=down"
            yield gone("trucks", planned.truck_id, cure)
            continue
        if {tank.compartment_id for tank in truck.compartments} != planned.loading.keys():
            cure = "put the compartments back as they were this morning"
            yield gone("compartments", f"{planned.truck_id}", cure)
        lines = {line.line_id for line in truck.lines}
        mixes = {mix_id for mix_id in planned.loading.values() if mix_id is not None}
        for name in sorted(mixes - book.mixes.keys()):
            yield gone("mixes", name, "put its rows back")
        for stop in planned.stops:
            if stop.place_id not in book.sites and stop.place_id not in book.properties:
                yield gone("properties", stop.place_id, "put its row back")
            for work in stop.orders:
                if work.line_id not in lines:
                    yield gone("lines", f"{planned.truck_id} {work.line_id}", "put its row back")
