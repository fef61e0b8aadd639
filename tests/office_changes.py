"""Random changes as the page sends them, and a writer that is killed amid them.

`python -m tests.office_changes JOURNAL SEED` opens the sample day over that journal and changes it
for ever, with a line of what is kept after each change. `... JOURNAL SEED WORKBOOK` writes into
orders.csv of that workbook instead, as the page of the tables does.
"""

from __future__ import annotations

import random
import sys
from pathlib import Path
from typing import Any

from planner.by_hand.sheet import StopOrderError
from planner.office.changes import Refused
from planner.office.day import DayState
from planner.office.journal import Journal
from planner.office.open_day import SharedDay
from planner.office.tables import OfficeTables
from planner.plan.document import to_json
from planner.records.sealed import text_sha256
from planner.tables.read import WorkbookReading


def some_change(state: DayState, rng: random.Random) -> dict[str, Any]:
    """A change that a person might make; some break rules, some cannot be made."""
    trucks = [truck for truck in state.trucks if not truck.out]
    truck = rng.choice(trucks)
    gap = rng.randint(0, len(truck.items))
    orders = list(state.planned.day.orders)
    refills = [item.name for item in truck.items if item.kind == "refill"]
    kinds = (
        "move move move remove pin refill_add refill lunch_move lunch_delete load undo undo redo"
    )
    kind = rng.choice([*kinds.split(), "truck"])
    name = rng.choice(orders)
    to = {"truck": truck.truck_id, "gap": gap}
    if kind in ("move", "remove", "pin"):
        return {"kind": kind, "orders": [name], **(to if kind == "move" else {})}
    if kind == "refill_add":
        return {"kind": kind, "site": rng.choice(list(state.planned.day.workbook.sites)), **to}
    if kind == "refill" and refills:
        moved = rng.random() < 0.5
        return {
            "kind": "refill_move" if moved else "refill_delete",
            "item": rng.choice(refills),
            **to,
        }
    if kind == "load":
        tank = rng.choice(list(truck.plan.loading))
        mix = rng.choice([*state.planned.day.workbook.mixes, None])
        load = {"kind": kind, "truck": truck.truck_id, "compartment": tank, "mix": mix}
        return load | ({} if rng.random() < 0.5 else {"fill_to_gal": rng.choice([None, 9.5, 20])})
    if kind == "truck":
        out = [one.truck_id for one in state.trucks if one.out]
        if out:
            return {"kind": "truck_in", "truck": out[0]}
        return {"kind": "truck_out", "truck": truck.truck_id}
    return {"kind": kind, **to} if kind.startswith("lunch") else {"kind": kind}


def tried(day: SharedDay, change: dict[str, Any]) -> bool:
    """Make a change; whether it could be made."""
    try:
        day.change(day.state.revision, change)
    except (Refused, StopOrderError):
        return False
    return True


def kept_line(day: SharedDay) -> str:
    """Revision and plan on the table."""
    return f"{day.state.revision} {text_sha256(to_json(day.state.planned.plan))}"


def open_tables(workbook: Path, folder: Path) -> OfficeTables:
    """Tables over a journal in the folder; nothing looks for problems."""
    nothing = WorkbookReading(None, ()), ()
    return OfficeTables(workbook, Journal(folder / "tables.sqlite"), lambda path: nothing)


def write_notes(workbook: Path, folder: Path, rng: random.Random) -> None:
    """Write areas for ever; row, cell and text of each that is kept."""
    tables = open_tables(workbook, folder)
    index = tables.state.headers["orders"].index["area_ft2"]
    rows = [number for number, _ in tables.state.sheets["orders"].rows[1:]]
    while True:
        place, text = (rng.choice(rows), index), str(rng.random())
        seen = tables.state.text("orders", *place)
        tables.write(tables.state.reading, "orders", {place: (seen, text)})
        print(*place, text, flush=True)


def main() -> None:
    """Change until killed."""
    if len(sys.argv) > 3:
        write_notes(Path(sys.argv[3]), Path(sys.argv[1]), random.Random(sys.argv[2]))
    from tests.office_server import straight_day
    from tests.sample_plan import sample_day

    day = straight_day(sample_day(), Path(sys.argv[1]))
    rng = random.Random(sys.argv[2])
    while True:
        tried(day, some_change(day.state, rng))
        print(kept_line(day), flush=True)


if __name__ == "__main__":
    main()
