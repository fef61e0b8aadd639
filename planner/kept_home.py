"""Which trucks the calendar of the next weeks keeps at home on a day, for everything that opens
that day. The calendar itself: planner.weeks.model."""

from datetime import date
from pathlib import Path

from planner.plain_files import read_json, text_of, why
from planner.problems import PlannerError


def calendar_path(workbook: Path) -> Path:
    """Where a workbook's calendar lies: in its folder, or beside an Excel file under its name."""
    if workbook.is_dir():
        return workbook / "calendar.json"
    return workbook.with_name(f"{workbook.stem}-calendar.json")


def kept_home(workbook: Path, when: date) -> tuple[str, ...]:
    """Trucks that stay home on that day by the calendar that stands (`planner weeks --without`
    with --write). Raises PlannerError for a calendar that cannot be read."""
    path = calendar_path(workbook)
    if not path.exists():
        return ()
    try:
        raw = read_json(text_of(path))
        rows = raw.get("out", []) if isinstance(raw, dict) else None
        if not isinstance(rows, list):
            raise ValueError("trucks that stay home ('out') are no list")
    except (OSError, ValueError) as error:
        raise PlannerError(
            f"{path} cannot be read as a calendar ({why(error)}); delete it and run `planner weeks`"
        ) from error
    parts = [str(row).rpartition("@") for row in rows]
    return tuple(name for name, _, day in parts if day == when.isoformat())
