"""What an import does, in words."""

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from pathlib import Path

from planner.importing.run import FirstLook, Imported
from planner.importing.tables_now import CellChange
from planner.problems import counted

MOST_NAMED = 20


def look_lines(look: FirstLook, mapping: str) -> Iterator[str]:
    """What the first look found and what is to be done."""
    columns, guess = look.guess.mapping.columns, look.guess
    mapped = sum(bool(targets) for targets in columns.values())
    yield (
        f"{look.export.name}: {counted(len(look.export.rows), 'row')}, "
        f"{counted(len(columns), 'column')}: {mapped} are "
        f"known, {len(columns) - mapped - len(guess.open_columns)} will be ignored."
    )
    yield from look.export.notes
    for header, targets in guess.open_columns.items():
        yield f"To decide: is '{header}' {' or '.join(targets)}?"
    for header in guess.open_units:
        yield f"To decide: the unit of the bare numbers in '{header}'."
    for header in guess.needs_area_code:
        yield f"To decide: the area code of numbers without one in '{header}'."
    if guess.asks_dates:
        yield "To decide: whether day or month stands first in dates like 3/4/27."
    if guess.asks_year:
        yield "To decide: the year of dates without one."
    if guess.open_services:
        yield f"To decide: which mix is meant by {_some(guess.open_services)}."
    if guess.open_days:
        yield f"To decide: {' and '.join(guess.open_days)}, which no column has."
    for header, cells in look.unread.items():
        yield f"To decide: what is meant in '{header}' by {_some(list(cells))}."
    yield f'What was guessed is in {mapping}: read it, replace every "?", and run this again.'


def import_lines(done: Imported) -> Iterator[str]:
    """What changes, what stays, what is gone."""
    left_out = [f"{why} ({count})" for why, count in sorted(done.read.left_out.items())]
    yield (
        f"{done.export.name}: {counted(len(done.export.rows), 'row')}, {len(done.read.rows)} read"
        + (f"; left out: {', '.join(left_out)}" if left_out else "")
        + "."
    )
    yield from done.export.notes
    yield from done.read.notes
    yield from done.notes
    for table, found in done.merged.items():
        if found.new:
            yield f"New {table} ({len(found.new)}): {_some(found.new)}."
        yield from _changes(f"Changed {table}", found.changed, "'{0.old}' -> '{0.new}'")
        yield from _changes(
            f"Kept in {table} as typed", found.kept, "'{0.old}'; the export says '{0.new}'"
        )
        if found.gone:
            yield f"No longer in the export, {table} ({len(found.gone)}): {_some(found.gone)}."
        if found.removed:
            yield (
                f"Removed by hand and not brought back, {table} ({len(found.removed)}): "
                f"{_some(found.removed)}."
            )
    if done.cancelled:
        yield f"Cancelled orders ({len(done.cancelled)}): {_some(done.cancelled)}."


def ending(done: Imported, workbook: Path, dry_run: bool) -> str:
    """What is to be done next."""
    tables = [found for found in done.merged.values() if found.edit]
    if not tables:
        return "Nothing changes in the tables."
    if dry_run:
        return "Nothing was written (--dry-run)."
    homes = done.merged["properties"]
    nowhere = sum(not (row.get("lat") and row.get("lon")) for row in homes.new_rows)
    step = f"planner check {workbook}"
    if nowhere:
        step = f"planner locate {workbook} ({nowhere} new properties have no coordinates yet)"
    return f"Next: {step}"


def machine_summary(done: Imported, written: Sequence[str]) -> dict[str, object]:
    """The same for other programs."""
    return {
        "export": done.export.name,
        "rows": len(done.export.rows),
        "left_out": dict(sorted(done.read.left_out.items())),
        "notes": [*done.export.notes, *done.read.notes, *done.notes],
        "problems": [asdict(problem) for problem in done.problems],
        **{
            table: {
                "new": found.new,
                "changed": [asdict(change) for change in found.changed],
                "kept": [asdict(change) for change in found.kept],
                "gone": found.gone,
                "removed": found.removed,
            }
            for table, found in done.merged.items()
        },
        "cancelled": done.cancelled,
        "written": list(written),
    }


def _changes(title: str, changes: Sequence[CellChange], form: str) -> Iterator[str]:
    if changes:
        yield f"{title} ({len(changes)} cells):"
    for change in changes[:MOST_NAMED]:
        yield f"  {change.key}, {change.column}: {form.format(change)}"
    if len(changes) > MOST_NAMED:
        yield f"  and {len(changes) - MOST_NAMED} more"


def _some(names: Sequence[str]) -> str:
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    return ", ".join(f"'{name}'" if " " in name else name for name in names[:MOST_NAMED]) + more
