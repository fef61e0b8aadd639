"""The clock between two fills, as a function of the minute at which a truck leaves the first;
clocks and nodes of the refill model.

Nothing on the way waits but for a window, so arrival is made of pieces: so many minutes after
the departure, or one minute for all departures whose differences a window swallows.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from math import inf
from typing import Any, NamedTuple

from planner.routing.exact.route_cost import SLACK_MIN, TruckDay


@dataclass
class FillClock:
    """A fill of a truck at a site with few places, if it takes place. loads: in the morning, in a
    turn that is chosen (rule 38), else in that of `arrive`; ready: arrived, and the site open;
    first, last: ticks between which it takes place."""

    row: int
    name: str
    loads: bool
    here: Any
    arrive: Any
    ready: Any
    begin: Any
    leave: Any
    lasts: Any
    first: int
    last: int


@dataclass
class Clock:
    """Of one refill of a truck: variables in ticks, and their bounds."""

    arrive: Any
    leave: Any
    first: int
    last: int


MEETS_MIN = 1e-6


class ClockPiece(NamedTuple):
    """Departures from `earliest` to `latest` arrive `plus` minutes later, or all `at` one minute.
    wish: price of preferences on the way."""

    earliest: float
    latest: float
    plus: float
    at: float | None = None
    wish: float = 0.0

    @property
    def least_min(self) -> float:
        """Fewest minutes from departure to arrival."""
        return self.plus if self.at is None else self.at - self.latest

    def arrival(self, leave_min: float) -> float:
        """When a truck arrives that leaves then."""
        return leave_min + self.plus if self.at is None else self.at

    def later(self, minutes: float) -> ClockPiece:
        """The same with so many minutes more."""
        earliest, latest, plus, at, wish = self
        return ClockPiece(
            earliest, latest, plus + minutes, None if at is None else at + minutes, wish
        )

    def leaving(self, first_min: float, last_min: float) -> ClockPiece | None:
        """The departures within these minutes; of one minute, as one that moves with it."""
        earliest, latest, plus, at, wish = self
        if first_min > earliest:
            earliest = first_min
        if last_min < latest:
            latest = last_min
        if earliest > latest:
            return None
        if earliest == latest and at is not None:
            return ClockPiece(earliest, latest, at - earliest, None, wish)
        return ClockPiece(earliest, latest, plus, at, wish)

    def arriving(self, first_min: float, last_min: float) -> ClockPiece | None:
        """The departures that arrive within these minutes."""
        earliest, latest, plus, at, wish = self
        if at is not None:
            return self if first_min <= at <= last_min else None
        earliest, latest = max(earliest, first_min - plus), min(latest, last_min - plus)
        return ClockPiece(earliest, latest, plus, at, wish) if earliest <= latest else None

    def waiting(self, opens_min: float) -> Iterable[ClockPiece]:
        """The same when nothing goes on before that minute."""
        early = self.arriving(-inf, opens_min)
        if early is not None:
            yield early._replace(at=opens_min)
        on_time = self.arriving(opens_min, inf)
        if on_time is not None and (early is None or on_time.latest > on_time.earliest):
            yield on_time


@dataclass(frozen=True)
class OrderStep:
    """An order of a sequence. new_visit: with a drive and a set-up even straight after the order
    before. busy_min: changeover and spraying."""

    order: int
    place: int
    busy_min: float
    new_visit: bool


def course(
    day: TruckDay,
    steps: Sequence[OrderStep],
    here: int,
    pieces: list[ClockPiece],
    *,
    visiting: bool,
) -> list[ClockPiece]:
    """Through these orders from a place, from the arrival there to the end of the last. visiting:
    the first of them belongs to a visit that has begun, unless it begins one itself."""
    for step in steps:
        if not visiting or step.new_visit:
            drive, setup = day.minutes[here][step.place], day.setup_min
        else:
            drive = setup = 0.0
        pieces = _worked(day, step, drive, setup, pieces)
        here, visiting = step.place, True
    return pieces


def lunch(day: TruckDay, pieces: Iterable[ClockPiece]) -> list[ClockPiece]:
    """Lunch where the truck stands."""
    truck = day.truck
    return [
        begun.later(truck.lunch_min)
        for piece in pieces
        for waits in piece.waiting(truck.lunch_earliest_min)
        if (begun := waits.arriving(-inf, truck.lunch_latest_min + SLACK_MIN)) is not None
    ]


def _worked(
    day: TruckDay, step: OrderStep, drive: float, setup: float, pieces: Iterable[ClockPiece]
) -> list[ClockPiece]:
    work = setup + step.busy_min
    told = None if day.preferences.told is None else day.preferences.told[step.order]
    done = []
    for piece in pieces:
        for begun in _begun(piece.later(drive), day.windows[step.order], work):
            for priced in [begun] if told is None or told[2] <= 0.0 else _told(begun, *told):
                done.append(priced.later(work))
    return done


def _begun(
    piece: ClockPiece, windows: Sequence[tuple[float, float]] | None, work: float
) -> Iterable[ClockPiece]:
    """Arrivals turned into begins: in the earliest window that fits."""
    if windows is None:
        yield piece
        return
    after = -inf
    for opens, closes in windows:
        last = closes - work + SLACK_MIN
        if last <= after:
            continue
        within = piece.arriving(after, last)
        after = last
        if within is not None:
            yield from within.waiting(opens)


def _told(piece: ClockPiece, least: float, most: float, price: float) -> Iterable[ClockPiece]:
    for first, last, wish in (
        (-inf, least - SLACK_MIN, price),
        (least - SLACK_MIN, most + SLACK_MIN, 0.0),
        (most + SLACK_MIN, inf, price),
    ):
        part = piece.arriving(first, last)
        if part is not None and (part.latest > part.earliest or wish == 0.0 or part.at is not None):
            yield part._replace(wish=part.wish + wish)


def merged(pieces: Iterable[ClockPiece]) -> list[ClockPiece]:
    """Like pieces that meet made one: lunch at one place or at the next may come to the same."""
    found: list[ClockPiece] = []
    like: dict[tuple[float, float | None, float], list[ClockPiece]] = {}
    for piece in pieces:
        at = None if piece.at is None else round(piece.at, 6)
        kind = (round(piece.plus, 6) if at is None else 0.0, at, piece.wish)
        like.setdefault(kind, []).append(piece)
    for same in like.values():
        same.sort()
        now = same[0]
        for piece in same[1:]:
            if piece.earliest <= now.latest + MEETS_MIN:
                now = now._replace(latest=max(now.latest, piece.latest))
            else:
                found.append(now)
                now = piece
        found.append(now)
    return found


class Key(NamedTuple):
    """What makes nodes differ. gap: before which order; fills: refills before it; site: -1 = the
    departure; after: site of the refill before, where both stand before one order, else -1; until:
    of each used mix that is not poured here, the count of its orders that it lasts for."""

    gap: int
    fills: int
    site: int
    after: int
    lunched: bool
    levels: tuple[float, ...]
    until: tuple[tuple[int, int], ...]


@dataclass
class Node:
    """earliest: of the arrival; spent: least money up to it; fixed: of it, what no minute asks for;
    rest, rest_fixed: the same from the arrival to the end; through: by way, least of a whole day
    through it, empty = not known."""

    key: Key
    levels: list[float]
    earliest: float = inf
    spent: float = inf
    fixed: float = inf
    rest: float = inf
    rest_fixed: float = inf
    ways: list[RefillWay] = field(default_factory=list)
    through: list[float] = field(default_factory=list)


class RefillWay(NamedTuple):
    """From one fill to the next or home (None). fill_min: set-up and pouring at the first;
    fixed: money beside the minutes'; paid_least: least money in all; poured: gallons by mix;
    lunch: whether it is had on the way; beside_min: paid beside the clock, less lunch."""

    start: Node
    end: Node | None
    fill_min: float
    piece: ClockPiece
    fixed: float
    paid_least: float
    poured: tuple[float, ...]
    lunch: bool
    beside_min: float
