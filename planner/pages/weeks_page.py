"""The calendar as a page of the office: the sheet of `planner weeks`, laid and asked from beside
it, and whom to call."""

from collections.abc import Iterator
from itertools import groupby
from typing import Final

from planner.day.life import brief_day
from planner.office.weeks import MOST_DAYS, Standing, Weeks
from planner.pages.words import Ready, fill
from planner.problems import PlannerError, WorkbookError
from planner.records.calls import OUTCOMES, CalledRow
from planner.weeks.call_list import MOVE, NO_DAY, TELL, WeeksCall

SAYS: Final = {MOVE: "move to", NO_DAY: "has no day now", TELL: "tell"}


def weeks_office_page(weeks: Weeks) -> str:
    """The whole page."""
    return fill("weeks.html", workbook=weeks.workbook.name, panel=Ready(weeks_panel(weeks)))


def weeks_panel(weeks: Weeks) -> str:
    """What of it changes: the element w-panel."""
    trouble, now = "", None
    try:
        now = weeks.standing()
    except WorkbookError as error:
        trouble = f"The tables have {len(error.problems)} problems; cure them first."
    except PlannerError as error:
        trouble = f"The calendar cannot be shown: {error}"
    calendar = now.calendar if now else None
    return fill(
        "weeks_panel.html",
        run=weeks.run.state,
        now=now,
        calendar=calendar,
        trouble=trouble,
        begin=weeks.when.isoformat(),
        most=MOST_DAYS,
        calls=list(_calls(now)) if now else [],
        says=SAYS,
        pressed=weeks.pressed() if now else "",
        outcomes=OUTCOMES.split("|"),
        asked=weeks.asked,
        moves=[
            (before, after, list(rows))
            for (before, after), rows in groupby(
                weeks.asked.moved if weeks.asked else (), key=lambda one: one[:2]
            )
        ],
        instead=[
            (day, truck, list(rows))
            for (day, truck), rows in groupby(
                weeks.asked.instead if weeks.asked else (), key=lambda one: one[:2]
            )
        ],
        programs=bool(now.book.programs) if now else False,
        rounds=weeks.rounds,
        day_text=brief_day,
    )


Called = tuple[int, WeeksCall, tuple[CalledRow, ...]]


def _calls(now: Standing) -> Iterator[tuple[str, list[Called]]]:
    """What to say, and its calls with their rows in the list, day by day."""
    rows = [(at, call, now.attempts[at]) for at, call in enumerate(now.calls)]
    for (what, day), some in groupby(rows, key=lambda row: (row[1].what, row[1].date)):
        when = f" {brief_day(day)}" if day else ""
        yield f"{SAYS[what].capitalize()}{when}", list(some)
