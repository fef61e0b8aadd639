"""Recording a planned day, wired: which plan it is, the sheet over plan and tables, check, append.

One plan of record a date (`planner/records/plans.py`): another one is recorded only when the office
says so and why.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date as Date
from datetime import timedelta
from pathlib import Path

from planner.chain import checked_workbook, open_plan, read_plan
from planner.plan.audit import Violation
from planner.plan.document import from_json, to_json
from planner.plan.model import Plan
from planner.problems import Problem, WorkbookError
from planner.records.calls import CALLED, attempts
from planner.records.codes import LEVEL_CODES
from planner.records.current import CORRECTED
from planner.records.entries import Manner
from planner.records.outcome import store_path, with_records
from planner.records.plans import (
    KeptPlan,
    name_plan,
    papers_of,
    plan_of_record,
    plans_of_record,
    text_of,
)
from planner.records.record import recording
from planner.records.sealed import CHECKSUM_DIGITS, text_sha256
from planner.records.sheet import read_actuals
from planner.records.store import Event, EventDraft, Store, StoreError
from planner.records.told import called, unsaid_in

LEAST_DIGITS = 4
"""So much of a plan's checksum names it."""

OLD_TABLES = "PLAN-WORKBOOK"
"""The violation of every plan once a table has changed, as it does from day to day."""


class RecordError(WorkbookError):
    """What is to be recorded cannot be, with every problem."""

    place = "what is to be recorded"


@dataclass(frozen=True)
class Recorded:
    """What was added to the records. still_open: what of the plan has no record yet; unsaid: what
    was asked around an order of the day and nobody stated -> orders; notes: on gallons that nobody
    read, in sentences."""

    date: str
    events: tuple[Event, ...]
    still_open: tuple[str, ...]
    unsaid: Mapping[str, Sequence[str]] = field(default_factory=dict)
    notes: tuple[str, ...] = ()


def record_day(
    path: Path,
    plan_file: Path | None,
    sheet: Path | None,
    manner: Manner,
    *,
    recorded_by: str,
    why: str = "",
    date: str = "",
    superseded: bool = False,
    extract: Path | None = None,
) -> Recorded:
    """Put what was really done on a planned day into the records of the workbook. plan_file: None =
    the plan of record of that date (ISO). sheet: the filled-in actuals, None = only what `manner`
    says. superseded: another plan than that of record is recorded; why: that, or of a correction.
    extract: roads to audit a plan with that was never printed.

    Nothing is written unless everything is right. Raises RecordError with every problem,
    WorkbookError, PlanFileError, RoadError, StoreError.
    """
    if plan_file is None:
        plan = from_json(text_of(path, _kept(path, date)))
    else:
        plan, _ = read_plan(plan_file)
        other = _other_of_record(path, plan)
        if other is not None and not superseded:
            raise RecordError([_superseded(path, plan_file, plan, other)])
        _audited(path, plan_file, plan, extract)
        manner = replace(manner, superseded_by=other.checksum if other is not None else "")
    when = Date.fromisoformat(plan.date)
    table = checked_workbook(path)
    # A truck that was taken out of service this morning worked yesterday all the same.
    table = replace(table, trucks={**table.trucks, **table.out_of_service})
    rows, problems = read_actuals(sheet) if sheet is not None else ([], [])
    seen = with_records(path, table, when).workbook
    file = store_path(path)
    known: tuple[Event, ...] = ()
    if file.exists():
        with Store(file) as store:
            known = store.events(plan.date, (when + timedelta(days=1)).isoformat())
    checksum = text_sha256(to_json(plan))[:CHECKSUM_DIGITS]
    found = recording(plan, checksum, rows, known, seen, table, manner, why)
    # Rows that cannot be read are missing in the levels; what follows from that is not told.
    problems += [one for one in found.problems if not problems or one.code not in LEVEL_CODES]
    if problems:
        raise RecordError(problems)
    if not found.drafts:
        return Recorded(plan.date, (), found.still_open, unsaid_in(known))
    # Only now is a store made: a sheet with problems leaves nothing behind. What another office
    # records meanwhile shows as a conflict inside the transaction.
    with Store(file, create=True) as store:
        events = store.append(found.drafts, recorded_by)
    unsaid = unsaid_in((*known, *events))
    return Recorded(plan.date, events, found.still_open, unsaid, found.notes)


def record_calls(path: Path, sheet: Path, date: str, by: str) -> str:
    """Put the attempts of a filled-in call list of a day (ISO) into the records, and say how many.
    Nothing is written unless everything is right. Raises RecordError, StoreError."""
    file = store_path(path)
    known: tuple[Event, ...] = ()
    if file.exists():
        with Store(file) as store:
            known = store.events(date, f"{date}~", (CALLED,))
    drafts, problems = attempts(sheet, date, known)
    if problems:
        raise RecordError(problems)
    if not drafts:
        return "Every attempt of the call list is recorded already, or none is filled in."
    with Store(file, create=True) as store:
        store.append(drafts, by)
    said = f"Recorded for {date}: {len(drafts)} {'call' if len(drafts) == 1 else 'calls'}."
    late = sum(called(draft.body).late for draft in drafts)
    return f"{said} After the last moment: {late}." if late else said


def use_plan(path: Path, which: str, by: str, extract: Path | None = None) -> KeptPlan:
    """Make a plan its date's plan of record: a folder or plan.json, or the checksum of one that
    was printed before. Raises RecordError when the audit condemns it, StoreError, PlanFileError."""
    place = Path(which)
    if place.exists():
        file = plan_file_in(place)
        plan, _ = read_plan(file)
        return name_plan(path, plan, file.parent, _audited(path, file, plan, extract), by)
    found = {
        plan.sha256: plan
        for day in plans_of_record(path).values()
        for plan in day.plans
        if len(which) >= LEAST_DIGITS and plan.sha256.startswith(which.lower())
    }
    if len(found) != 1:
        raise StoreError(
            f"{which}: there is no such folder or file, and "
            f"{'no plan' if not found else 'more than one plan'} in the records has this checksum"
        )
    (kept,) = found.values()
    folder = papers_of(path, kept) or (Path(kept.folder) if kept.folder else None)
    return name_plan(path, from_json(text_of(path, kept)), folder, kept.broken, by)


def papers_of_date(path: Path, date: str) -> Path | None:
    """The folder that holds the papers of the date's plan of record. Raises StoreError."""
    return papers_of(path, _kept(path, date))


def plan_file_in(place: Path) -> Path:
    """The plan.json that a person means by a folder or a file."""
    return place / "plan.json" if place.is_dir() else place


def repaired(path: Path, by: str) -> list[str]:
    """Add a correction to every record that holds what is no number, and say what was done; empty
    = there is none. Raises StoreError."""
    with Store(store_path(path)) as store:
        drafts, lines = [], []
        for event, places in store.no_numbers():
            told = ", ".join(places)
            why = f"repaired: {told} was not a number"
            kind = event.body["is"] if event.kind == CORRECTED else event.kind
            body = event.body | {"is": kind, "corrects": event.seq, "why": why}
            drafts.append(
                EventDraft(CORRECTED, event.day, event.subject, event.plan, body, event.seq)
            )
            lines.append(f"record {event.seq} ({event.subject}): {told} was not a number")
        added = store.append(drafts, by) if drafts else ()
    return [
        f"{line}; record {event.seq} corrects it." for line, event in zip(lines, added, strict=True)
    ]


def _kept(path: Path, date: str) -> KeptPlan:
    kept = plan_of_record(path, date)
    if kept is None:
        raise StoreError(f"no plan of {date} was printed or named as its plan; name its plan.json")
    return kept


def _other_of_record(path: Path, plan: Plan) -> KeptPlan | None:
    kept = plan_of_record(path, plan.date)
    return None if kept is None or kept.sha256 == text_sha256(to_json(plan)) else kept


def _superseded(path: Path, plan_file: Path, plan: Plan, kept: KeptPlan) -> Problem:
    folder = papers_of(path, kept)
    where = "" if folder is None else f" in {shown(folder)}"
    use = f"--date {plan.date}" if folder is None else str(shown(folder / "plan.json"))
    return Problem(
        str(plan_file),
        None,
        None,
        "REC-14",
        f"plan {text_sha256(to_json(plan))[:CHECKSUM_DIGITS]} is not the plan of record of "
        f"{plan.date}; that is plan {kept.mark}{where}",
        cure=f"record {use}; if the crews worked by this one all the same, add --superseded and "
        "--why",
    )


def _audited(path: Path, plan_file: Path, plan: Plan, extract: Path | None) -> Sequence[str]:
    """The rules that a plan breaks and was printed with nevertheless. A plan that was printed was
    audited then, with the tables of that day; another one must pass now. Raises RecordError."""
    sha256 = text_sha256(to_json(plan))
    days = plans_of_record(path, plan.date, f"{plan.date}~").values()
    for kept in (kept for day in days for kept in day.plans):
        if kept.sha256 == sha256:
            return kept.broken
    found = open_plan(plan_file, path, extract).violations
    if any(row.code != OLD_TABLES for row in found):
        raise RecordError(_condemned(plan_file, found))
    return ()


def _condemned(plan_file: Path, found: Sequence[Violation]) -> list[Problem]:
    old = any(row.code == OLD_TABLES for row in found)
    head = Problem(
        str(plan_file),
        None,
        None,
        "REC-15",
        "this plan does not pass the audit, and it was never printed"
        + ("; the tables have changed since it was made, which may be why" if old else ""),
        cure="correct it, or print it as it is (`planner packet --with-violations`), and record it",
    )
    return [head, *(replace(head, message=str(row), cure="") for row in found)]


def shown(place: Path) -> Path:
    """A path as a person in this folder would write it."""
    try:
        return place.resolve().relative_to(Path.cwd())
    except (ValueError, OSError):
        return place
