"""What the calendar says of one day, for the day's own plan."""

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from planner.day.day import Day
from planner.day.parts import whole_id, whole_ids
from planner.kept_home import calendar_path
from planner.plan.keep import Kept
from planner.problems import counted
from planner.weeks.model import Calendar, read_calendar


@dataclass(frozen=True)
class DayShare:
    """truck_of: order -> truck of the orders that lie on the day; later: those on later days, and
    those that are cheaper after the last one; home: trucks that stay home then; lost: whether the
    day is taken as lost to rain."""

    truck_of: dict[str, str]
    later: frozenset[str]
    home: tuple[str, ...] = ()
    lost: bool = False

    def kept(self, day: Day) -> Kept:
        """The trucks as a wish of the day's plan (settings keep_price)."""
        served = {
            name: truck
            for name, truck in self.truck_of.items()
            if name in day.orders and truck in day.workbook.trucks
        }
        return Kept(served, {}, frozenset(), "the calendar")

    def text(self, day: Day) -> str:
        """How the day's orders stand to the calendar, in words."""
        due = whole_ids(day.orders, day.orders)
        mine = len(whole_ids(day.orders, [name for name in day.orders if name in self.truck_of]))
        more = len(due) - mine
        text = f"Calendar: {counted(mine, 'order')} {'lies' if mine == 1 else 'lie'} on this day"
        if more:
            text += f", {more} more {'is' if more == 1 else 'are'} due that it has no day for"
        if later := len(whole_ids(day.workbook.orders, day.laid_later)):
            verb = "is" if later == 1 else "are"
            text += (
                f"; {counted(later, 'due order')} {verb} for later days (--no-calendar: all now)"
            )
        if self.lost:
            text += "; it takes this day as lost to rain"
        home = [name for name in self.home if name in day.barred]
        if home:
            text += f"; {' and '.join(home)} {'stays' if len(home) == 1 else 'stay'} home by it"
            text += " (--no-calendar: all may go out)"
        return text + "."


def share_of(workbook: Path, when: date) -> DayShare | None:
    """The day's share of the calendar that stands, None = there is none, or it has no such day.
    Raises CalendarError."""
    calendar = read_calendar(calendar_path(workbook))
    if calendar is None or when.isoformat() not in calendar.days:
        return None
    return day_share(calendar, when)


def day_share(calendar: Calendar, when: date) -> DayShare:
    """The share of one of its days."""
    text = when.isoformat()
    truck_of = {row.order_id: one.truck_id for one in calendar.on(when) for row in one.orders}
    # Parts of one lawn (rule 39) are planned together, when the first of them is due or laid.
    now = [name for name, day in calendar.day_of.items() if day <= text]
    put_off = [row.order_id for row in calendar.waiting if row.code == "LATER"]
    now += [row.order_id for row in calendar.waiting if row.code != "LATER"]
    begun = {whole_id({}, name) for name in now}
    later = [*put_off, *(name for name, day in calendar.day_of.items() if day > text)]
    return DayShare(
        truck_of,
        frozenset(n for n in later if whole_id({}, n) not in begun),
        tuple(
            name for name, _, day in (one.rpartition("@") for one in calendar.out) if day == text
        ),
        text in calendar.wet,
    )
