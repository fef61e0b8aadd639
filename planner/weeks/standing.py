"""The calendar that stands: laid again, asked what a lost day would do, told to customers. What a
new calendar takes from it, and when it takes its place."""

import contextlib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

from planner.day.life import day_text
from planner.kept_home import calendar_path
from planner.problems import few
from planner.routing.problem import SolveOptions
from planner.weeks.asking import LostDay, lost_day
from planner.weeks.audit import calendar_faults
from planner.weeks.lay import Horizon, WeeksError, make_calendar, open_horizon
from planner.weeks.model import Calendar, CalendarError, read_calendar, write_calendar

DAYS = 10
"""Working days that orders are laid on where nobody says how many."""


@dataclass(frozen=True)
class OpenWeeks:
    """Days that are to be laid. path: of calendar.json; before: the calendar to begin with, None =
    anew; told: order -> day that its customer was told, which stands however the days are laid;
    asking: what a lost day would do, so that everything else keeps its day where that costs
    little."""

    path: Path
    horizon: Horizon
    before: Calendar | None
    told: Mapping[str, str]
    asking: bool


@dataclass(frozen=True)
class LaidWeeks:
    """What came of it. difference: to the calendar that stood, of a question; faults: rules that
    the calendar breaks (a bug), not_laid: orders that the standing calendar gives a day and this
    one, stopped early, does not: with either it takes nobody's place."""

    calendar: Calendar
    difference: LostDay | None
    faults: tuple[str, ...]
    not_laid: tuple[str, ...]

    @property
    def stands(self) -> bool:
        """Whether it may be the calendar from now on."""
        return not self.faults and not self.not_laid


def open_weeks(
    workbook: Path,
    first: date | None = None,
    count: int = DAYS,
    *,
    asking: bool = False,
    fresh: bool = False,
    extract: Path | None = None,
) -> OpenWeeks:
    """The days from `first` on: tomorrow, or for a question the days of the calendar that stands.
    fresh: begin anew, but for what customers were told. Raises CalendarError, as open_horizon."""
    path = calendar_path(workbook)
    standing = read_calendar(path)
    told = {} if standing is None else standing.told
    before = None if fresh else standing
    if asking and before is None:
        raise WeeksError(
            f"{path} is not there yet; run `planner weeks` first, without --wet and --without"
        )
    if asking and before is not None and first is None:
        first, count = date.fromisoformat(before.days[0]), len(before.days)
    first = first or date.today() + timedelta(days=1)
    return OpenWeeks(path, open_horizon(workbook, first, count, extract), before, told, asking)


def lay_weeks(
    opened: OpenWeeks,
    options: SolveOptions,
    *,
    wet: Iterable[date] = (),
    out: Iterable[str] = (),
    rain_percent: float | None = None,
    next_days: bool = True,
    lay: Callable[..., Calendar] = make_calendar,
) -> LaidWeeks:
    """A calendar that keeps what the standing one was told and asked. Nothing is written. wet, out,
    rain_percent, next_days: as of make_calendar; lay: in its place."""
    horizon, before = opened.horizon, opened.before
    lost, home = set(wet), set(out)
    if before is not None:
        known = {str(day) for day in horizon.days}
        lost |= {date.fromisoformat(day) for day in before.wet if day in known}
        home |= {name for name in before.out if name.rpartition("@")[2] in known}
    asked_of = before if opened.asking else None
    made = lay(
        horizon,
        options,
        before=before,
        wet=lost,
        out=home,
        told=dict(opened.told),
        stay={} if asked_of is None else asked_of.day_of,
        rain_percent=rain_percent if asked_of is None else asked_of.rain_given,
        next_days=next_days,
    )
    return LaidWeeks(
        made,
        None if asked_of is None else lost_day(asked_of, made),
        tuple(calendar_faults(made, horizon.day, horizon.roads.travel_by_truck)),
        _not_laid(opened.path, made) if before is None and options.stop.is_set else (),
    )


def tell_customers(workbook: Path, days: Iterable[date]) -> tuple[Calendar, dict[date, int]]:
    """Mark the customers of those days as told, at once; nothing is laid anew. The calendar, and
    how many customers each day has. Raises WeeksError, CalendarError, OutputError."""
    path = calendar_path(workbook)
    calendar = read_calendar(path)
    if calendar is None:
        raise WeeksError(f"{path} is not there yet; run `planner weeks` first, without --tell")
    customers, none = {}, []
    for day in days:
        rows = [row for one in calendar.on(day) for row in one.orders]
        if not rows:
            none.append(day_text(day))
        calendar = calendar.with_told({row.order_id for row in rows}, str(day))
        customers[day] = len({row.property_id for row in rows})
    if none:
        have = [
            day_text(date.fromisoformat(day))
            for day in calendar.days
            if day in {*calendar.day_of.values()}
        ]
        raise WeeksError(
            f"--tell: the calendar that stands has no order on {few(none, len(none))}; it has some "
            f"on {few(have, len(have)) or 'no day'}. Nobody was marked"
        )
    write_calendar(path, calendar)
    return calendar, customers


def _not_laid(path: Path, made: Calendar) -> tuple[str, ...]:
    with contextlib.suppress(CalendarError):
        if standing := read_calendar(path):
            return tuple(one.order_id for one in made.waiting if one.order_id in standing.day_of)
    return ()
