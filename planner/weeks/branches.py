"""A calendar of several yards, branch by branch: each yard with its trucks and the lawns that are
nearest to it is laid by itself, on any machine, and the parts become one calendar."""

import contextlib
import tempfile
import threading
import time
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Final, cast

from planner.roads.travel import Roads
from planner.routing.problem import Progress, SolveOptions, StopToken
from planner.weeks.lay import Horizon, make_calendar
from planner.weeks.model import Calendar, WaitingOrder
from planner.weeks.numbers import truck_day

LOOK_S: Final = 0.3
"""Between looks at the other processes, and theirs at the stop."""
STOP: Final = "stop"


@dataclass(frozen=True)
class BranchTask:
    """options, more: arguments of make_calendar; the same task gives the same calendar. told_in:
    a file of this machine that its progress is written to, None = nobody looks; ends: whether it is
    to end with the best that it has, asked now and then, None = it never is."""

    horizon: Horizon
    options: SolveOptions
    more: Mapping[str, Any] = field(default_factory=dict)
    told_in: Path | None = None
    ends: Callable[[], bool] | None = None


class _AskedStop(StopToken):
    """Set once it is told so."""

    def __init__(self, ends: Callable[[], bool]) -> None:
        super().__init__()
        self._ends, self._looked = ends, 0.0

    @property
    def is_set(self) -> bool:
        if not self._is_set and time.monotonic() - self._looked > LOOK_S:
            self._looked = time.monotonic()
            self._is_set = self._ends()
        return self._is_set


@dataclass(frozen=True)
class _NamedRoads:
    """What a calendar says of its roads; the roads themselves need not travel."""

    description: str
    warning: str


def named_roads(description: str, warning: str) -> Roads:
    """Roads of which a calendar only asks what they are; the times come with it."""
    return cast("Roads", _NamedRoads(description, warning))


def branches(horizon: Horizon, out: Collection[str] = ()) -> tuple[Horizon, ...]:
    """A horizon per yard with trucks that go out on one of the days at least. out: truck-days that
    stay home, as of Calendar. A lawn goes to the nearest yard whose trucks may do all of
    its orders; where no yard has such, to the nearest."""
    book, roads = horizon.day.workbook, horizon.roads
    fleet: dict[str, list[str]] = {}
    going = [
        name
        for name in book.trucks
        if any(truck_day(name, when) not in out for when in horizon.days)
    ]
    for name in going or book.trucks:
        truck = book.trucks[name]
        fleet.setdefault(truck.yard_id, []).append(name)
    wanted: dict[str, list[frozenset[str]]] = {}
    for order in book.orders.values():
        able = frozenset(book.trucks if order.only_trucks is None else order.only_trucks)
        wanted.setdefault(order.property_id, []).append(able - order.never_trucks)

    def away(yard: str, home: str) -> tuple[bool, float]:
        travel = roads.travel_by_truck[fleet[yard][0]]
        rows = travel.index()
        cannot = any(able.isdisjoint(fleet[yard]) for able in wanted[home])
        far = float(travel.minutes[rows[yard], rows[home]]) if home in rows else 0.0
        return cannot, far

    yard_of = {home: min(fleet, key=lambda yard: away(yard, home)) for home in wanted}
    found = []
    named = named_roads(*roads.source)
    for yard, trucks in fleet.items():
        orders = {
            name: one for name, one in book.orders.items() if yard_of[one.property_id] == yard
        }
        part = replace(book, orders=orders, trucks={name: book.trucks[name] for name in trucks})
        day = replace(
            horizon.day,
            workbook=part,
            orders={name: one for name, one in horizon.day.orders.items() if name in orders},
            ahead={name: one for name, one in horizon.day.ahead.items() if name in orders},
        )
        ways = {name: roads.travel_by_truck[name] for name in trucks}
        own = replace(roads, roads=named, travel_by_truck=ways)
        found.append(replace(horizon, day=day, roads=own))
    return tuple(found)


def lay_branch(task: BranchTask) -> Calendar:
    """The calendar of one branch, on one core."""
    path = task.told_in

    def tell(share: float, text: str) -> None:
        if path is not None:
            new = path.with_suffix(".new")  # Nobody reads half a file.
            new.write_text(f"{share:.3f} {text}", encoding="utf-8")
            new.replace(path)

    stop = StopToken() if task.ends is None else _AskedStop(task.ends)
    options = replace(task.options, progress=tell, stop=stop)
    made = make_calendar(task.horizon, options, threads=1, **task.more)
    tell(1.0, "")
    return made


@contextlib.contextmanager
def watched(tasks: Sequence[BranchTask], progress: Progress, stop: StopToken) -> Iterator[Any]:
    """The tasks as other processes of this machine are to get them: meanwhile their progress is
    told, and once `stop` is set each ends with the best that it has."""
    with tempfile.TemporaryDirectory() as name:
        folder, ended = Path(name), threading.Event()
        files = [folder / str(at) for at in range(len(tasks))]

        def watch() -> None:
            while not ended.wait(LOOK_S):
                if stop.is_set:
                    (folder / STOP).touch()
                told = [
                    (path.read_text(encoding="utf-8") if path.exists() else "0").partition(" ")
                    for path in files
                ]
                shares = [float(share or 0) for share, _, _ in told]
                texts = [
                    text for share, (_, _, text) in zip(shares, told, strict=True) if share < 1
                ]
                done = f"{len(tasks) - len(texts)} of {len(tasks)} branches are laid"
                if stop.is_set:
                    done = "ending with the best so far"
                progress(sum(shares) / len(tasks), "; ".join([done, *filter(None, texts[:1])]))

        thread = threading.Thread(target=watch, daemon=True)
        thread.start()
        try:
            ends = (folder / STOP).exists
            yield [
                replace(task, told_in=path, ends=ends)
                for task, path in zip(tasks, files, strict=True)
            ]
        finally:
            ended.set()
            thread.join()


def _not_asked(row: WaitingOrder, parts: int) -> WaitingOrder:
    """The order with what its branch cannot know: that there are other yards' trucks."""
    if parts == 1 or row.code not in ("NO-TRUCK", "NO-MIX", "NO-HOSE", "TOO-LARGE", "FULL"):
        return row
    return replace(row, reason=f"{row.reason}; trucks of other yards were not asked (--branches)")


def _with_days(part: Calendar) -> int:
    """Orders with a day that is open to them, whether they have it or not."""
    shut = ("NOT-YET", "KEPT-OUT", "HELD")
    return len(part.day_of) + sum(row.code not in shut for row in part.waiting)


def merged(parts: Sequence[Calendar], horizon: Horizon) -> Calendar:
    """The branches' calendars as that of the whole horizon."""
    book = horizon.day.workbook
    trucks, orders = list(book.trucks), list(book.orders)
    shares = [share for part in parts for share in part.shares]
    waiting = [_not_asked(row, len(parts)) for part in parts for row in part.waiting]
    weights = [_with_days(part) or 1 for part in parts]

    def mean(values: Sequence[float]) -> float:
        return sum(a * b for a, b in zip(values, weights, strict=True)) / sum(weights)

    return replace(
        parts[0],
        trucks=tuple(trucks),
        shares=tuple(sorted(shares, key=lambda one: (one.date, trucks.index(one.truck_id)))),
        closed={
            day: why
            for day, why in parts[0].closed.items()
            if all(day in part.closed for part in parts)
        },
        waiting=tuple(sorted(waiting, key=lambda row: orders.index(row.order_id))),
        told={name: day for part in parts for name, day in part.told.items()},
        engine=", ".join(sorted({part.engine for part in parts})),
        rain_percent=mean([part.rain_percent for part in parts]),
        rain_by_day={
            day: mean([part.rain_by_day[day] for part in parts]) for day in parts[0].rain_by_day
        },
        cost=sum(part.cost for part in parts),
        miles=sum(part.miles for part in parts),
        late_cost=sum(part.late_cost for part in parts),
    )
