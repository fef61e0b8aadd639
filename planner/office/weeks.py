"""The calendar of the next weeks from the office's page: laid, watched and stopped as by `planner
weeks`, asked what rain would do, and its calls recorded attempt by attempt."""

import contextlib
import hashlib
import json
import signal
import tempfile
import threading
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any, Final

from planner.chain import open_day
from planner.day.day import Workbook
from planner.day.life import brief_day
from planner.day.parts import whole_id
from planner.day_files import user_name
from planner.exports.text import csv_text
from planner.kept_home import calendar_path
from planner.office.changes import Refused
from planner.office.runs import CommandRun, Run
from planner.outputs.file import replace_file
from planner.plain_files import read_json, text_of
from planner.plan.document import PlanFileError, plain, read_value
from planner.problems import PlannerError
from planner.recording import record_calls
from planner.records.calls import CALLED, OUTCOMES, CalledRow, CallRow, called_rows
from planner.records.outcome import store_path
from planner.records.store import Store
from planner.records.told import TAKEN_BACK
from planner.weeks.call_list import NO_DAY, WeeksCall, call_list
from planner.weeks.lines import costs_text
from planner.weeks.model import Calendar, calendar_text, read_calendar, write_calendar
from planner.weeks.page import weeks_page
from planner.weeks.weeks_files import weeks_files

MOST_DAYS: Final = 30
MOST_PRESSES: Final = 20
"""Presses among the calls that can be taken back, one after another."""
TOLD: Final = ("reached", "message left")
"""Outcomes after which a customer knows the day."""
STALE: Final = "Tables or records have changed since: lay the days again"


@dataclass(frozen=True)
class LostDayAnswer:
    """What a lost day or truck comes to. moved: (day before, '' = it had none, new day, customer,
    order, was told, is late); without: (customer, order, why); put_off: the same of orders that
    come after the calendar's last day; costs: in the words of the command; instead: (day, truck,
    customer, order) of orders that another truck does on their day."""

    words: str
    wet: str
    without_truck: str
    moved: tuple[tuple[str, str, str, str, bool, bool], ...]
    without: tuple[tuple[str, str, str], ...]
    put_off: tuple[tuple[str, str, str], ...]
    costs: str
    late: int
    instead: tuple[tuple[str, str, str, str], ...] = ()


@dataclass(frozen=True)
class Standing:
    """The calendar that stands, with the tables it is shown with. attempts: of each call."""

    calendar: Calendar
    book: Workbook
    stale: str
    calls: tuple[WeeksCall, ...]
    attempts: tuple[tuple[CalledRow, ...], ...]


@dataclass(frozen=True)
class _Pressed:
    """What one press recorded. after_sha256: of the calendar that it left; days: that the calls are
    about, as rows; instead: what stands again in their place when it is taken back."""

    before: Calendar
    after_sha256: str
    days: tuple[str, ...]
    rows: tuple[CallRow, ...]
    instead: tuple[CallRow, ...]


class Weeks:
    """Of one workbook. extract: roads that go before those of planner.toml; when: the day that is
    open, None = tomorrow, from which days are laid unless another is asked for."""

    def __init__(
        self, workbook: Path, extract: Path | None = None, when: date | None = None
    ) -> None:
        self.workbook, self._extract = workbook, extract
        self.when = when or date.today() + timedelta(days=1)
        # As by Ctrl-C, after which the command keeps the best calendar so far.
        self.run = CommandRun("Stopped; the best calendar so far stands.", signal.SIGINT, (0, 3))
        self.asked: LostDayAnswer | None = None
        self.rounds = ""
        self._lock = threading.Lock()
        self._kept: tuple[object, Standing] | None = None

    def standing(self) -> Standing | None:
        """The calendar that stands, None = there is none. Raises PlannerError for tables, records
        or a calendar that cannot be read."""
        with self._lock:
            stamp = self._stamp()
            if self._kept is not None and self._kept[0] == stamp:
                return self._kept[1]
            calendar = read_calendar(calendar_path(self.workbook))
            if calendar is None:
                return None
            first = date.fromisoformat(calendar.days[0])
            book = open_day(self.workbook, first, use=None).workbook
            stale = "" if calendar.workbook_sha256 == book.sha256 else STALE
            calls = call_list(calendar, book)
            made = self._called(calendar)
            attempts = tuple(
                tuple(one for one in made if (one.person, one.date) == (_who(call), _day(call)))
                for call in calls
            )
            found = Standing(calendar, book, stale, calls, attempts)
            self._kept = stamp, found
            return found

    def sheet(self) -> str | None:
        """The page of `planner weeks`. Raises as standing."""
        now = self.standing()
        return None if now is None else weeks_page(now.calendar, now.book, now.stale)

    def file(self, name: str) -> str | None:
        """One of the calendar's files for other programs. Raises as standing."""
        now = self.standing()
        return None if now is None else weeks_files(now.calendar, now.book).get(name)

    def lay(self, first: str, days: str, fresh: bool) -> Run:
        """Lay the days. first: ISO, '' = tomorrow. Raises Refused."""
        if not days.isdecimal() or not 1 <= int(days) <= MOST_DAYS:
            raise Refused(f"Say how many working days: 1 to {MOST_DAYS}.")
        words = ["weeks", str(self.workbook), "--days", days]
        words += ["--from", _iso(first)] if first else []
        words += ["--fresh"] if fresh else []
        return self._start(f"{days} working days", words)

    def ask(self, wet: str, without: str, write: bool) -> Run:
        """If that day is lost, or that truck ('T1@2027-05-03') stays home. write: make the answer
        the calendar. Raises Refused."""
        now = self.standing()
        if now is None:
            raise Refused("There is no calendar yet; lay the days first.")
        truck, _, day = without.rpartition("@")
        days, trucks = now.calendar.days, now.calendar.trucks
        if (wet and wet not in days) or (without and (truck not in trucks or day not in days)):
            raise Refused("Choose a day of the calendar, and a truck of it.")
        if not wet and not without:
            raise Refused("Say which day is lost, or which truck stays home.")
        words = ["weeks", str(self.workbook), "--json", *(["--write"] if write else [])]
        words += ["--wet", wet] if wet else []
        words += ["--without", without] if without else []
        both = [f"{brief_day(wet)} is wet"] if wet else []
        both += [f"{truck} stays home on {brief_day(day)}"] if without else []
        name = f"If {' and '.join(both)}"

        def ended(printed: str) -> None:
            self.asked = None if write else _asked(name, wet, without, printed, now.book)

        return self._start(name, words, ended)

    def look_at_rounds(self, when: str, write: bool) -> Run:
        """Where each program stands; write: add its orders to the orders table. Raises Refused."""
        words = ["rounds", str(self.workbook), "--date", _iso(when)]

        def ended(printed: str) -> None:
            # The page has a button for what the command has an option for.
            self.rounds = printed.replace(" --write adds them.", "")

        return self.run.start(f"Rounds on {when}", [*words, *(["--write"] if write else [])], ended)

    def called(self, calls: Sequence[int], outcome: str, note: str, day: str) -> None:
        """Record what came of calls: their rows in the list. day: of the calendar's first day as
        the page shows it. Raises Refused."""
        now = self.standing()
        if now is None or day != now.calendar.days[0] or self.run.state.running:
            raise Refused("Not recorded: the calendar is another one now; look again.")
        if outcome not in OUTCOMES.split("|") or not all(0 <= at < len(now.calls) for at in calls):
            raise Refused("Not recorded: there is no such call or outcome.")
        at = datetime.now()
        chosen = [now.calls[row] for row in calls]
        rows = [
            CallRow(
                person=_who(call),
                phone=call.phone or call.phone_2,
                stops=f"{call.address}: {call.mixes} ({call.what} {call.date})".strip(),
                products="",
                call_from="",
                call_by="",
                called_on=f"{at:%Y-%m-%d}",
                called_at=f"{at:%H:%M}",
                outcome=outcome,
                caller=user_name(),
                note=note[:200],
            )
            for call in chosen
        ]
        calendar = now.calendar
        for call, row in zip(chosen, rows, strict=True):
            self._record(_day(call), row)
            if outcome in TOLD:
                calendar = told(calendar, call)
        self._stand(now.calendar, calendar)
        days = tuple(map(_day, chosen))
        instead = tuple(map(_instead, rows, (now.attempts[row] for row in calls)))
        press = _Pressed(now.calendar, _sha256(calendar), days, tuple(rows), instead)
        self._keep_presses([*self._presses(), press])

    def pressed(self) -> str:
        """What take_back would take back, in words; '' = nothing. Raises as standing."""
        now = self.standing()
        presses = self._presses() if now is not None else []
        if now is None or not presses or presses[-1].after_sha256 != _sha256(now.calendar):
            return ""
        last, *others = presses[-1].rows
        more = f" and {len(others)} more" if others else ""
        return f"{last.outcome}: {last.person}{more}"

    def take_back(self) -> str:
        """Take back what called did last, as long as the calendar is the one of then: the records
        keep the calls and that they were none. In words. Raises Refused."""
        said = self.pressed()
        if not said or self.run.state.running:
            raise Refused("Nothing to take back: the calendar is another one now; look again.")
        *left, last = self._presses()
        for day, row in zip(last.days, last.instead, strict=True):
            self._record(day, row)
        self._stand(None, last.before)
        self._keep_presses(left)
        return said

    def _presses(self) -> list[_Pressed]:
        """What may be taken back, the last one last, also after a restart. A file that cannot be
        read takes nothing back: the records hold what was said."""
        with contextlib.suppress(OSError, ValueError, PlanFileError):
            raw = read_json(text_of(_presses_path(self.workbook)))
            return list(read_value(tuple[_Pressed, ...], raw, "presses"))
        return []

    def _keep_presses(self, presses: Sequence[_Pressed]) -> None:
        kept = plain(tuple(presses[-MOST_PRESSES:]))
        replace_file(_presses_path(self.workbook), json.dumps(kept, ensure_ascii=False))

    def _record(self, day: str, row: CallRow) -> None:
        with tempfile.TemporaryDirectory() as folder:
            sheet = Path(folder) / "calls.csv"
            replace_file(sheet, csv_text(CallRow, [row]))
            try:
                record_calls(self.workbook, sheet, day, row.caller)
            except PlannerError as error:
                raise Refused(f"Not recorded: {error}") from error

    def _stand(self, before: Calendar | None, after: Calendar) -> None:
        if after is not before:
            write_calendar(calendar_path(self.workbook), after)
        with self._lock:
            self._kept = None

    def _start(self, name: str, words: list[str], ended: Any = None) -> Run:
        words += ["--roads", str(self._extract)] if self._extract is not None else []

        def laid(_printed: str) -> None:
            self.asked = None

        return self.run.start(name, words, ended or laid)

    def _called(self, calendar: Calendar) -> tuple[CalledRow, ...]:
        file = store_path(self.workbook)
        if not file.exists():
            return ()
        first = min([calendar.days[0], *calendar.told.values()])
        with Store(file) as store:
            return called_rows(store.events(first, f"{calendar.days[-1]}~", (CALLED,)))

    def _stamp(self) -> object:
        book = self.workbook
        files = [*book.iterdir()] if book.is_dir() else [book, calendar_path(book)]
        files = sorted({*files, store_path(book)})
        found = [(file, file.stat()) for file in files if file.is_file()]
        return [(file, stat.st_mtime_ns, stat.st_size) for file, stat in found]


def _presses_path(workbook: Path) -> Path:
    """Beside the calendar."""
    path = calendar_path(workbook)
    return path.with_name(path.name.replace("calendar.json", "calendar-calls.json"))


def _sha256(calendar: Calendar) -> str:
    return hashlib.sha256(calendar_text(calendar).encode()).hexdigest()


def told(calendar: Calendar, call: WeeksCall) -> Calendar:
    """The calendar after the customer was told what the call is about."""
    names = set(call.orders.split("; "))
    if call.what == NO_DAY:
        left = {name: day for name, day in calendar.told.items() if whole_id({}, name) not in names}
        return replace(calendar, told=left)
    return calendar.with_told(names, call.date)


def _instead(row: CallRow, made: Sequence[CalledRow]) -> CallRow:
    """The attempt that a row replaces, for it is of the same minute; else one that is none."""
    for one in made:
        if (one.called_on, one.called_at) == (row.called_on, row.called_at):
            return replace(row, outcome=one.outcome, caller=one.caller, note=one.note)
    return replace(row, outcome=TAKEN_BACK)


def _who(call: WeeksCall) -> str:
    return call.customer or call.property


def _day(call: WeeksCall) -> str:
    return call.date or call.told_day


def _iso(text: str) -> str:
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        raise Refused(f"{text} is no day.") from None


def _asked(words: str, wet: str, without: str, printed: str, book: Workbook) -> LostDayAnswer:
    found = json.loads(printed)["difference"]

    def at(property_id: str) -> str:
        home = book.properties.get(property_id)
        return home.customer if home and home.customer else property_id

    def who(row: dict[str, Any]) -> str:
        return at(row["property_id"])

    def without_day(*, later: bool) -> tuple[tuple[str, str, str], ...]:
        return tuple(
            (who(row), row["order_id"], row["reason"])
            for row in found["without_day"]
            if (row["code"] == "LATER") == later
        )

    return LostDayAnswer(
        words,
        wet,
        without,
        tuple(
            (
                *(row["before"], row["after"], who(row), row["order_id"]),
                *(row["told"], row["overdue_days"] > 0),
            )
            for row in found["moved"] + found["taken_in"]
        ),
        without_day(later=False),
        without_day(later=True),
        costs_text(
            found["cost"],
            found["miles"],
            found["later_cost"],
            found["late_cost"],
            book.settings.currency,
        ),
        found["late"],
        tuple(
            sorted(
                (day, truck, at(book.orders[name].property_id), name)
                for day, name, truck in found["other_truck"]
            )
        ),
    )
