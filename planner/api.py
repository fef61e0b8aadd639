"""The planner for Python programs: what the commands do, without a terminal.

`from planner import open_day, plan_day, ...`. Errors that a person can do something about derive
from PlannerError; a WorkbookError carries every problem in `problems`.
"""

from collections.abc import Callable, Collection, Mapping
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path

import pandas as pd

from planner import chain, changing, recording
from planner.again.plan import open_running_day, plan_again
from planner.again.said import read_said
from planner.chain import DayRoads, PlannedDay
from planner.compare.compare import EVER, Request, compare, prepare
from planner.compare.model import Comparison
from planner.day.day import Day
from planner.day_files import print_day
from planner.exports.rows import leg_rows, stop_rows
from planner.outputs.folder import write_folder
from planner.outputs.told import Written
from planner.plan.audit import Violation, audit
from planner.routing.problem import Effort, Progress, SolveOptions, StopToken, silent
from planner.tables.read import WorkbookReading

DAY_EFFORT = Effort(count=300)
"""As the command line's: some 15 seconds of two cores for a branch's day of about 85 orders."""

AFTERNOON_EFFORT = Effort(count=200)
"""For a running day, while crews wait."""

record_day = recording.record_day


@dataclass(frozen=True)
class OpenDay:
    """A checked day with its roads, ready to be planned. path: its workbook."""

    path: Path
    day: Day
    roads: DayRoads


def check_workbook(path: str | Path) -> WorkbookReading:
    """Read a workbook (a folder of CSV files or an .xlsx file). `problems` of the result holds
    everything that is wrong; its `workbook` is None when nothing could be read."""
    return chain.check_with_roads(Path(path))[0]


def open_day(path: str | Path, when: date, *, extract: str | Path | None = None) -> OpenDay:
    """One day of a workbook: its open orders, the records of the days before, and drive times.
    extract: a road extract instead of the one in planner.toml.

    Raises WorkbookError with every problem, RoadError, StoreError.
    """
    workbook = Path(path)
    day = chain.open_day_to_plan(workbook, when)
    roads = chain.open_day_roads(workbook, day, Path(extract) if extract else None)
    return OpenDay(workbook, day, roads)


def plan_day(
    opened: OpenDay,
    *,
    engine: str = "search",
    effort: Effort = DAY_EFFORT,
    seed: int = 1,
    progress: Progress = silent,
    keep: PlannedDay | None = None,
    stop: StopToken | None = None,
) -> PlannedDay:
    """The day planned and audited. keep: an earlier plan to stay near to; stop: once it is set (by
    `progress`, another thread or Ctrl-C), the best plan so far is taken. The plan keeps every rule
    when `violations` of the result is empty."""
    options = SolveOptions(effort, seed, progress, stop or StopToken(), engine)
    before = keep.plan if keep is not None else None
    return chain.plan_day(opened.day, opened.roads, options, before)


def replan_day(
    path: str | Path,
    earlier: PlannedDay,
    at: str,
    *,
    done: Collection[str] = (),
    opened: Collection[str] = (),
    skipped: Collection[str] = (),
    added: Collection[str] = (),
    trucks: Mapping[str, str] | None = None,
    filled: bool = False,
    engine: str = "search",
    effort: Effort = AFTERNOON_EFFORT,
    seed: int = 1,
    progress: Progress = silent,
    stop: StopToken | None = None,
) -> PlannedDay:
    """The rest of a running day planned again. at: the clock time ('11:40'); done, opened, skipped,
    added: order ids; trucks: truck id -> 'down', or the clock time from which it goes on; filled:
    trucks that have not left stand filled as planned; stop: as of plan_day.

    Raises AgainError with everything in these options that cannot be.
    """
    workbook, before = Path(path), earlier.plan
    states = [f"{name}={state}" for name, state in (trucks or {}).items()]
    said, problems = read_said(
        at, done=done, opened=opened, skipped=skipped, added=added, trucks=states, filled=filled
    )
    when = date.fromisoformat(before.date)
    day = open_running_day(workbook, when, before, said, problems)
    roads = chain.open_day_roads(workbook, day, None)
    options = SolveOptions(effort, seed, progress, stop or StopToken(), engine)
    return plan_again(workbook, day, roads, before, said, options)


def load_plan(plan_file: str | Path, workbook: str | Path) -> PlannedDay:
    """A plan.json with its day and roads, audited. Raises what chain.open_plan does."""
    return chain.open_plan(Path(plan_file), Path(workbook), None)


def edit_plan(
    plan_file: str | Path, workbook: str | Path, stop_order: str | Path | None = None
) -> PlannedDay:
    """The plan that a changed stop order (CSV or .xlsx) means, audited; without one, the plan's own
    loading and stops worked out again. `violations` names every rule that the change breaks.

    Raises StopOrderError with every problem for which there is no such plan.
    """
    sheet = Path(stop_order) if stop_order else None
    return changing.open_changed(Path(plan_file), Path(workbook), None, sheet).after


def audit_plan(planned: PlannedDay) -> tuple[Violation, ...]:
    """Every rule that the plan breaks, worked out again from the tables."""
    roads = planned.roads
    return audit(planned.plan, planned.day, roads.travel_by_truck, roads.source)


def publish(
    planned: PlannedDay,
    folder: str | Path,
    workbook: str | Path,
    *,
    force: bool = False,
    draft: bool = False,
) -> Written:
    """Write the day's folder: papers, map, plan.json and the files in open formats. Files that
    somebody filled in or changed are kept unless force is given; the result names them. The plan
    becomes its day's plan of record, unless it is a draft.

    Raises OutputError when nothing can be written there.
    """
    place = Path(folder)
    return print_day(
        planned,
        Path(workbook),
        place,
        lambda files: write_folder(place, files, force=force),
        draft=draft,
    ).written


def stops_frame(planned: PlannedDay) -> pd.DataFrame:
    """One row per stop (truck, kind, place, clock times, orders, gallons, weight) with the drive to
    it: drive_min, drive_miles and streets. Columns as in stops.csv and legs.csv."""
    legs = leg_rows(planned.plan, chain.legs_of(planned.plan, planned.roads))
    drives = {(row.truck_id, row.to_stop): row for row in legs}
    rows = []
    for stop in stop_rows(planned.plan, planned.day):
        drive = drives.get((stop.truck_id, stop.stop))
        rows.append(
            asdict(stop)
            | {
                "drive_min": drive.drive_min if drive else 0.0,
                "drive_miles": drive.drive_miles if drive else 0.0,
                "streets": drive.streets if drive else "",
            }
        )
    return pd.DataFrame(rows)


def compare_fleets(
    workbook: str | Path,
    fleets: Mapping[str, str | Path] | None = None,
    *,
    sweeps: Collection[str] = (),
    first: date = EVER[0],
    last: date = EVER[1],
    engine: str = "search",
    count: int = 40,
    seed: int = 1,
    jobs: int = 1,
    progress: Callable[[int, int, int], None] = lambda done, before, every: None,
) -> Comparison:
    """The workbook's days planned with each fleet. fleets: name -> folder with trucks, lines and
    compartments; sweeps: 'trucks=3..5'; count: effort of each day; progress: told the tasks done,
    those of them taken from an earlier run, and all."""
    request = Request(
        workbook=Path(workbook),
        first=first,
        last=last,
        folders={name: Path(folder) for name, folder in (fleets or {}).items()},
        sweeps=tuple(sweeps),
        engine=engine,
        count=count,
        seed=seed,
    )
    return compare(prepare(request), progress, jobs=jobs)
