"""The open day's papers: which packets are no longer as printed, and printing them again."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from planner.chain import PlannedDay
from planner.day.very import once
from planner.office.day import PrintState
from planner.outputs.folder import write_folder
from planner.plan.document import from_json, plain, to_json
from planner.plan.model import Plan, TruckPlan
from planner.records.plans import plan_of_record, text_of
from planner.records.sealed import plan_checksum
from planner.tables.office import load_office_file


@dataclass(frozen=True)
class Published:
    """folder: where the papers are; said: what became of the plan of record; told: what was kept
    beside them."""

    folder: Path
    said: str
    told: tuple[str, ...]


class Papers:
    """The papers of one date of a workbook. folder: where they are printed."""

    def __init__(self, workbook: Path, date: str, folder: Path) -> None:
        self.workbook, self.date, self.folder = workbook, date, folder
        self._print_of = once(_print_of)
        self._mark, self._seq = "", -1
        self._printed: dict[str, str] = {}
        self._replaced: tuple[str, ...] = ()
        self._shown: tuple[Plan, dict[str, str]] | None = None
        self.look()

    def look(self) -> bool:
        """See what the plan of record is now; whether it is another than before. Raises
        StoreError."""
        kept = plan_of_record(self.workbook, self.date)
        seq = -1 if kept is None else kept.seq
        if seq == self._seq:
            return False
        self._seq, self._mark, self._printed = seq, "", {}
        if kept is not None and kept.number is not None:
            plan = from_json(text_of(self.workbook, kept))
            self._mark = kept.mark
            self._printed = {row.truck_id: _print_of(row) for row in plan.trucks if row.stops}
        return True

    def state(self, plan: Plan) -> PrintState:
        """The plan against what is printed."""
        if not self._mark:
            return PrintState()
        now = {row.truck_id: self._print_of(row) for row in plan.trucks if row.stops}
        names = [row.truck_id for row in plan.trucks]
        again = tuple(name for name in names if now.get(name) != self._printed.get(name))
        return PrintState(self._mark, again, False, self._replaced)

    def files(self, planned: PlannedDay) -> Mapping[str, str]:
        """Every paper of the plan as text, to be looked at: as printed where it is the plan of
        record, else marked as a draft."""
        from planner.day_files import day_files

        if self._shown is None or self._shown[0] is not planned.plan:
            state = self.state(planned.plan)
            checksum = plan_checksum(to_json(planned.plan))
            printed = not state.never and not state.again
            mark = state.mark if printed else f"{checksum}, draft"
            tiles = load_office_file(self.workbook).tiles
            self._shown = (planned.plan, day_files(planned, tiles, mark))
        return self._shown[1]

    def publish(self, planned: PlannedDay) -> Published:
        """Make the plan its day's plan of record and write its papers, as `planner packet` does;
        what people typed stays. Raises OutputError, StoreError."""
        from planner.day_files import print_day

        def write(files: dict[str, str]) -> tuple[str, ...]:
            return write_folder(self.folder, files).told

        other = self.state(planned.plan).again
        printed = print_day(planned, self.workbook, self.folder, write)
        self._shown, self._replaced = None, other
        self.look()
        return Published(self.folder, printed.said, printed.written)


def _print_of(planned: TruckPlan) -> str:
    """Equal where a truck's sheets are."""
    return hashlib.sha256(json.dumps(plain(planned), sort_keys=True).encode()).hexdigest()
