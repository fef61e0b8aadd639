"""A planned day -> every file of its folder, as text, and writing its papers: they carry the
number of their print, and the records keep the plan as its day's plan of record."""

import contextlib
import getpass
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Generic, TypeVar

from planner.by_hand.sheet import FILE_NAME as STOP_ORDER
from planner.by_hand.sheet import stop_order_sheet
from planner.chain import PlannedDay, background_streets, legs_of
from planner.exports.files import open_files
from planner.papers.packet import packet_pages
from planner.plain_files import without_collecting
from planner.plan.caught import as_told, with_handed
from planner.plan.document import from_json, to_json
from planner.records.calls import FILE_NAME as CALLS
from planner.records.calls import calls_sheet
from planner.records.plans import KeptPlan, note_print, plan_of_record, withdraw
from planner.records.sealed import plan_checksum
from planner.records.sheet import FILE_NAME, actuals_sheet
from planner.records.store import StoreError
from planner.tables.office import MapTiles, load_office_file


@without_collecting()
def day_files(planned: PlannedDay, tiles: MapTiles | None = None, mark: str = "") -> dict[str, str]:
    """Every file of a day's folder: plan.json, the actuals sheet to fill in, the stop order to
    change, the packet's pages, the map and the open formats. tiles: an online street map that may
    be switched on behind the map's own. mark: what the sheets say after the word Plan, '' = its
    checksum."""
    text = to_json(planned.plan)
    # Papers of a plan in memory and of the same plan read back are alike to the last digit.
    planned = replace(planned, plan=from_json(text))
    roads = planned.roads.roads
    legs = legs_of(planned.plan, planned.roads)
    checksum = plan_checksum(text)
    told = as_told(planned.plan, with_handed(planned.plan, planned.day.workbook))
    others = open_files(told, planned.day, legs, roads.credit)
    files = {
        "plan.json": text,
        FILE_NAME: actuals_sheet(planned.plan, planned.day, checksum),
        STOP_ORDER: stop_order_sheet(planned.plan, planned.day),
    }
    call_list = calls_sheet(planned.plan, planned.day)
    if call_list:
        files[CALLS] = call_list
    files.update(
        packet_pages(
            planned.plan,
            planned.day,
            legs,
            map_file="map.html",
            plan_mark=mark or checksum,
            credit=roads.credit,
            other_files=(*files, *others),
            broken=[str(violation) for violation in planned.violations],
        )
    )
    # Imported here: folium takes half a second, and the office's page opens without a map.html.
    from planner.maps.day_map import map_page

    files["map.html"] = map_page(
        told, planned.day, legs, background_streets(planned, legs), roads.credit, tiles
    )
    files.update(others)
    return files


DEMO_DATA = Path(__file__).resolve().parents[1] / "demo_data"
"""Nothing is ever written there: what is planned of it is not kept."""

NO_PAPERS = ("ID-", "PLAN-FIGURE", "MIX-RATE", "TRUCK-TWICE", "ORDER-TWICE", "STOP-SEQ")
"""Violations after which there is nothing to print and nothing to record: names and figures that
nobody knows, the same thing twice, stops without an order."""

Result = TypeVar("Result")


@dataclass(frozen=True)
class Printed(Generic[Result]):
    """kept: the plan as the records have it now, None = they do not; said: about that, '' = there
    is nothing to say; written: what writing the files gave."""

    kept: KeptPlan | None
    said: str
    written: Result


def user_name() -> str:
    """Who uses this machine."""
    try:
        return getpass.getuser()
    except (KeyError, ImportError, OSError):  # a user without an entry, as in containers
        return "unknown"


def print_day(
    planned: PlannedDay,
    workbook: Path,
    folder: Path,
    write: Callable[[dict[str, str]], Result],
    *,
    draft: bool = False,
) -> Printed[Result]:
    """Make the plan its day's plan of record and write its papers. write: puts the files (name ->
    text) into the folder; when it fails, the plan of record stays what it was. When the records
    cannot be written, the papers are, without a number. draft: nothing is kept."""
    plan, tiles = planned.plan, load_office_file(workbook).tiles
    if draft:
        mark = f"{plan_checksum(to_json(plan))}, draft"
        said = (
            f"A draft: it is not the plan of record of {plan.date}. "
            f"`planner days WORKBOOK --use {folder}` makes it that."
        )
        return Printed(None, said, write(day_files(planned, tiles, mark)))
    if DEMO_DATA in workbook.resolve().parents:
        return Printed(None, "", write(day_files(planned, tiles)))
    broken = [violation.code for violation in planned.violations]
    try:
        before = plan_of_record(workbook, plan.date)
        kept = note_print(workbook, plan, folder, broken, user_name())
    except StoreError as error:
        said = f"Note: the records do not know that this plan was printed. {error}"
        return Printed(None, said, write(day_files(planned, tiles)))
    try:
        written = write(day_files(planned, tiles, kept.mark))
    except BaseException:
        with contextlib.suppress(StoreError):
            withdraw(workbook, kept, kept.by)
        raise
    said = f"Plan of record of {plan.date}: plan {kept.mark}."
    if before is not None and before.sha256 != kept.sha256:
        said += f" It replaces plan {before.mark}: take the sheets of that one back."
    elif before is not None:
        said += f" It is the same as plan {before.mark}; sheets of both are good."
    return Printed(kept, said, written)
