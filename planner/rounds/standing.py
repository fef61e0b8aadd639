"""Where each property stands in the rounds of its programs on a day, and which rounds degree
days have opened."""

from collections import Counter, defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum
from typing import Final

from planner.day.day import Workbook
from planner.day.life import day_text
from planner.day.orders import ProgramRound, PropertyProgram, Status
from planner.day.places import Property
from planner.day.products import Mix, Product
from planner.rounds.windows import RoundWindow, RoundWindows

EARLY_DAYS: Final = 14
"""A round is also done by an application so many days before its window, where the round of its mix
before lies no nearer (ours)."""


class RoundState(StrEnum):
    """Where a round stands. Due and behind may be done now; behind is past the day by which it
    should be done and before the last one on which it makes sense."""

    DONE = "done"
    DUE = "due"
    BEHIND = "behind"
    LATER = "later"
    LOST = "lost"
    SKIPPED = "skipped"
    CANCELLED = "cancelled"


OPEN: Final = (RoundState.DUE, RoundState.BEHIND)
OVER: Final = (RoundState.DONE, RoundState.LOST, RoundState.SKIPPED, RoundState.CANCELLED)


@dataclass(frozen=True)
class RoundStanding:
    """One round of one property in one season (the year in which the program's first round opens).
    opens: first day on which it may be done, None = nobody can tell; about: that day is estimated.
    due_to: by when it should be done; last_day: after it the round is lost; due_about, last_about:
    that day is estimated. done_on: None = not done. revenue: None = no price. waits: for a round
    before it. order_id: of its order. reason: of a later round why not sooner, of one that may be
    done now why by then."""

    order_id: str
    property_id: str
    program_id: str
    number: int
    name: str
    mix_id: str
    season: int
    priority: int
    area_ft2: float
    revenue: float | None
    state: RoundState
    opens: date | None = None
    about: bool = False
    due_to: date | None = None
    last_day: date | None = None
    done_on: date | None = None
    waits: bool = False
    reason: str = ""
    due_about: bool = False
    last_about: bool = False


@dataclass(frozen=True)
class _Step:
    """A round with its season and window."""

    one: ProgramRound
    season: int
    window: RoundWindow


def round_standings(
    book: Workbook, laid: Workbook, done: Collection[str], when: date
) -> tuple[RoundStanding, ...]:
    """Every round of every property that has a program, in the order of the tables. book: as it is
    written, or without the orders that are done; laid, done: with the records of the days before
    laid over it, and orders that they have as done."""
    windows = RoundWindows(book.temperatures, when)
    programs: dict[str, list[ProgramRound]] = defaultdict(list)
    for one in book.programs.values():
        programs[one.program_id].append(one)
    applied = _applied(laid)
    found: list[RoundStanding] = []
    for having in book.property_programs:
        rounds = sorted(programs[having.program_id], key=lambda one: one.number)
        home = book.properties[having.property_id]
        steps = list(_steps(rounds, home, having, windows, when))
        days = {
            mix_id: _days_of(applied[home.property_id], book.mixes[mix_id], book.products)
            for mix_id in {step.one.mix_id for step in steps}
        }
        found += _Property(book, laid, done, when, having, home, steps, days).standings()
    return tuple(found)


def _applied(laid: Workbook) -> Mapping[str, Mapping[date, set[str]]]:
    found: dict[str, dict[date, set[str]]] = defaultdict(lambda: defaultdict(set))
    for row in laid.history:
        found[row.property_id][row.day].add(row.product_id)
    return found


def _days_of(
    applied: Mapping[date, set[str]], mix: Mix, products: Mapping[str, Product]
) -> list[date]:
    """Days on which the mix was applied. Its water conditioners, dyes and the like count only where
    it has nothing else: few write them into a history."""
    parts = [products[part.product_id] for part in mix.parts]
    counted = {
        one.product_id
        for one in parts
        if one.registration_no
        or one.nitrogen_percent
        or one.phosphate_percent
        or one.potash_percent
    } or {one.product_id for one in parts}
    return sorted(day for day, there in applied.items() if counted <= there)


def _steps(
    rounds: Sequence[ProgramRound],
    home: Property,
    having: PropertyProgram,
    windows: RoundWindows,
    when: date,
) -> Iterator[_Step]:
    """The rounds of this season, and those of the one before that reach into this year."""
    for season in (when.year - 1, when.year):
        year, before = season, None
        for one in rounds:
            if before and one.from_day and one.from_day < before:
                year += 1  # A program that begins in fall goes on in the spring.
            before = one.from_day or before
            window = windows.window(one, home.weather_area, year)
            ends_year = window.closes.year if window.closes and one.to_day else year
            if season == when.year or ends_year >= when.year:
                gone = having.first_day and window.closes and window.closes < having.first_day
                if not gone:
                    yield _Step(one, season, window)


@dataclass(frozen=True)
class _Property:
    """One property in one program."""

    book: Workbook
    laid: Workbook
    done: Collection[str]
    when: date
    having: PropertyProgram
    home: Property
    steps: Sequence[_Step]
    days: Mapping[str, Sequence[date]]

    def standings(self) -> Iterator[RoundStanding]:
        done_on = self._done_on()
        before: RoundStanding | None = None  # The last one that was done.
        waits_for: RoundStanding | None = None
        for place, step in enumerate(self.steps):
            later = next(
                (other for other in range(place + 1, len(self.steps)) if other in done_on), None
            )
            found = self._over(step, done_on.get(place), later) or self._open(
                place, step, before, waits_for
            )
            if found.state is RoundState.DONE:
                before = found
            elif found.state not in OVER:
                waits_for = waits_for or found
            yield found

    def _plain(self, step: _Step) -> RoundStanding:
        one, area_ft2 = step.one, self.having.area_ft2 or self.home.lawn_ft2
        return RoundStanding(
            f"{self.home.property_id}.{one.program_id}.{one.number}.{step.season}",
            self.home.property_id,
            one.program_id,
            one.number,
            one.name,
            one.mix_id,
            step.season,
            one.priority,
            area_ft2,
            one.revenue(area_ft2),
            RoundState.LATER,
            step.window.opens,
            step.window.opens_about,
            step.window.closes,
            step.window.closes,
            due_about=step.window.closes_about and step.window.closes is not None,
            last_about=step.window.closes_about and step.window.closes is not None,
        )

    def _done_on(self) -> dict[int, date]:
        """Place of each round that was done -> day. What is recorded under a round's own order is
        that round's; any other application belongs to the round that `_round_of` says."""
        found: dict[int, date] = {}
        own = set()
        for place, step in enumerate(self.steps):
            name = self._plain(step).order_id
            if name in self.done:
                order, closes = self.book.orders.get(name), step.window.closes
                first = order.due_from if order else step.window.opens or self.when
                days = [day for day in self.days[step.one.mix_id] if day not in found.values()]
                at = next((day for day in days if day >= first), days[-1] if days else None)
                found[place] = at or (
                    order.due_to if order else min(self.when, closes or self.when)
                )
                own.add(place)
        taken = set(found.values())
        for mix_id, days_of_mix in self.days.items():
            places = [at for at, step in enumerate(self.steps) if step.one.mix_id == mix_id]
            for day in days_of_mix:
                at_round = None if day in taken else self._round_of(day, places, found)
                if at_round is not None and at_round not in found:
                    found[at_round] = day
        for place, step in enumerate(self.steps):
            name = self._plain(step).order_id
            if name in self.laid.orders and self.laid.orders[name].status is Status.OPEN:
                found.pop(place, None)  # Its rest is still to be done.
        return found

    def _round_of(self, day: date, places: Sequence[int], found: Mapping[int, date]) -> int | None:
        """The latest round of a mix that had opened by the day; or the next one, if it opens within
        EARLY_DAYS and the one before is not wanted, done well before, or farther from its end."""
        now = soon = None
        for at in places:
            opens = self.steps[at].window.opens
            if opens is not None and opens <= day:
                now = at
            elif opens is not None and soon is None and (opens - day).days <= EARLY_DAYS:
                soon, early = at, (opens - day).days
        if soon is None or now is None or self.steps[now].one.number in self.having.skip_rounds:
            return now if soon is None else soon
        if now in found:
            return soon if (day - found[now]).days > EARLY_DAYS else now
        closes = self.steps[now].window.closes
        return soon if closes and (day - closes).days > early else now

    def _over(self, step: _Step, day: date | None, later: int | None) -> RoundStanding | None:
        """A round of which nothing is left to do."""
        plain, last = self._plain(step), step.window.closes
        order = self.book.orders.get(plain.order_id)
        if day is not None:
            late = (day - last).days if last else 0
            reason = f"{late} days after its window" if late > 0 else ""
            return replace(plain, state=RoundState.DONE, done_on=day, reason=reason)
        if step.one.number in self.having.skip_rounds:
            return replace(plain, state=RoundState.SKIPPED, reason=self.having.reason)
        if order is not None and order.status is Status.CANCELLED:
            return replace(plain, state=RoundState.CANCELLED, reason=order.status_reason)
        ends = self.having.last_day
        if ends and ((plain.opens or self.when) > ends or self.when > ends):
            reason = f"the program ended {day_text(ends)}"
            reason += f": {self.having.reason}" if self.having.reason else ""
            return replace(plain, state=RoundState.CANCELLED, reason=reason)
        if later is not None:
            other = self.steps[later].one.number
            return replace(plain, state=RoundState.LOST, reason=f"round {other} was done before it")
        if last is not None and self.when > last and not step.window.closes_about:
            return replace(
                plain, state=RoundState.LOST, reason=f"its window closed {day_text(last)}"
            )
        return None

    def _open(
        self, place: int, step: _Step, before: RoundStanding | None, waits_for: RoundStanding | None
    ) -> RoundStanding:
        """A round that is still to be done: by when, and whether it can be."""
        plain, one = self._plain(step), step.one
        opens = plain.opens
        if opens is not None and self.having.first_day:
            opens = max(opens, self.having.first_day)
        last = due_to = _earlier(plain.last_day, self.having.last_day)
        held = at_most = ""
        most = None
        if before is not None and before.done_on is not None:
            soonest = before.done_on + timedelta(days=one.days_least or 0)
            if opens is not None and soonest > opens:
                opens, since = soonest, day_text(before.done_on)
                held = f"{one.days_least} days after round {before.number} (done {since})"
            if one.days_most is not None:
                most = before.done_on + timedelta(days=one.days_most)
                at_most = f"at most {one.days_most} days after round {before.number}"
                due_to = _earlier(due_to, most)
        if opens is not None and last is not None and opens > last:
            end = "its window" if last == plain.last_day else "its program"
            reason = f"not before {day_text(opens)}: {held}; too late for {end}"
            return replace(plain, state=RoundState.LOST, reason=reason)
        room = self._room_for_next(place)
        due_to = _earlier(due_to, room.closes)
        due_about = due_to is not None and (
            (due_to == plain.last_day and plain.last_about)
            or (due_to == room.closes and room.closes_about)
        )
        if due_to != most or due_to in (last, room.closes):
            at_most = ""
        if due_to is not None and opens is not None:
            due_to = max(due_to, opens)
        found = replace(
            plain,
            opens=opens,
            due_to=due_to,
            last_day=last,
            reason=held,
            due_about=due_about,
            last_about=plain.last_about and last == plain.last_day,
            waits=bool(waits_for),
        )
        if waits_for is not None:
            return replace(found, reason=f"waits for round {waits_for.number}")
        if opens is None or self.when < opens:
            return found
        late = due_to is not None and self.when > due_to
        return replace(found, state=RoundState.BEHIND if late else RoundState.DUE, reason=at_most)

    def _room_for_next(self, place: int) -> RoundWindow:
        """closes: the last day that leaves the next wanted round its own last day."""
        for step in self.steps[place + 1 :]:
            if step.one.number not in self.having.skip_rounds:
                last, about = step.window.closes, step.window.closes_about
                left = last - timedelta(days=step.one.days_least or 0) if last else None
                return RoundWindow(None, left, closes_about=about)
        return RoundWindow(None, None)


def _earlier(one: date | None, other: date | None) -> date | None:
    return min(filter(None, (one, other)), default=None)


_TOLD: Final = (RoundState.DUE, RoundState.BEHIND, RoundState.LATER, RoundState.LOST)


def heat_lines(
    book: Workbook, program_id: str, homes: Collection[str], when: date
) -> tuple[str, ...]:
    """Degree days of a program's rounds so far, once for each area of the properties; () when none
    of its rounds counts them."""
    windows = RoundWindows(book.temperatures, when)
    return tuple(
        dict.fromkeys(
            windows.heat_text(one, book.properties[name].weather_area, when.year)
            for one in book.programs.values()
            if one.program_id == program_id
            and (one.degree_days_from is not None or one.degree_days_to is not None)
            for name in sorted(homes)
        )
    )


def rounds_due(book: Workbook, done: Collection[str], when: date) -> Iterator[str]:
    """A line for each program whose rounds count degree days: how many properties each round is
    due at, behind, later or lost, and the degree days. done: orders that the records have."""
    homes: dict[str, set[str]] = {}
    for having in book.property_programs:
        homes.setdefault(having.program_id, set()).add(having.property_id)
    heat = {name: heat_lines(book, name, at, when) for name, at in homes.items()}
    standings = round_standings(book, book, done, when) if any(heat.values()) else ()
    for program_id, lines in heat.items():
        if not lines:
            continue
        found: dict[str, Counter[RoundState]] = {}
        for one in standings:
            if one.program_id == program_id and one.state in _TOLD:
                label = f"round {one.number} {one.name}".rstrip()
                found.setdefault(label, Counter())[one.state] += 1
        said = [
            f"{label}: " + ", ".join(f"{n} {state.value}" for state, n in sorted(states.items()))
            for label, states in found.items()
        ]
        yield f"{program_id}, {'; '.join(said) or 'no round is open'}. {'; '.join(lines)}."
