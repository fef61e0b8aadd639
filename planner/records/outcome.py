"""Records of earlier days -> what tomorrow's plan must know: applications, levels, orders done.

The rules of precedence between records and tables stand in docs/rules.md, 'Records and tables'.
"""

import hashlib
import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Final

from planner.compliance.edges import leave_edges
from planner.day.day import Workbook
from planner.day.fleet import Called, Caught, Compartment, Line, Truck
from planner.day.life import day_text
from planner.day.orders import Order, PastApplication
from planner.mixing.containers import together
from planner.plain_files import without_collecting
from planner.records.current import CORRECTED, PLANNED, SKIPPED, SPRAYED, current, kind_of, whole_of
from planner.records.day_log import LoggedTruckDay, Replayed, Tank, replay
from planner.records.record import planned_days
from planner.records.store import Event, Store
from planner.records.told import CALLED, called_of
from planner.units import Amount

REST_SHARE: Final = 0.02
"""An order of which less than this share is left counts as done; areas are measured no better."""

MOST_DAYS_BACK: Final = 30
"""A truck that was not out on this many recorded days stands as the compartments table has it."""

NOTHING_GAL: Final = 0.05
"""Less than a cup is an empty compartment."""

SAME_GAL: Final = 0.1
"""Nobody writes a level into a table more exactly than this."""


ASKED_OF_APPLICATIONS: Final = (
    "is",
    "order_id",
    "part_of",
    "property_id",
    "mix_id",
    "area_ft2",
    "end_min",
    "early_for",
    "products.product_id",
    "products.amount",
    "products.unit",
)
"""All that a plan wants to know of the records of two years."""


@dataclass(frozen=True)
class Outcome:
    """A workbook with the records laid over it, and what a person should know about that. done:
    its orders that are recorded as done, which the workbook no longer holds."""

    workbook: Workbook
    notes: tuple[str, ...]
    done: frozenset[str] = frozenset()


def store_path(workbook: Path) -> Path:
    """Where a workbook's records lie: in its folder, or beside an Excel file under its name."""
    if workbook.is_dir():
        return workbook / "records.sqlite"
    return workbook.with_name(f"{workbook.stem}-records.sqlite")


def with_records(path: Path, book: Workbook, when: date) -> Outcome:
    """The workbook as it stands in the morning of `when`, each order without the strips of its lawn
    that stay unsprayed (rule 34). Raises StoreError."""
    book = leave_edges(book, when)
    file = store_path(path)
    if not file.exists():
        return Outcome(book, ())
    until = when.isoformat()
    with Store(file) as store, without_collecting():
        # Yearly sums count the calendar year, days between go back into the year before.
        kinds = (SPRAYED, SKIPPED, CORRECTED)
        events = store.events(f"{when.year - 1}-01-01", until, kinds, ASKED_OF_APPLICATIONS)
        return laid_over(book, events, _last_days(store, book, until), when)


def logged_calls(workbook: Path, date: str) -> tuple[Called, ...]:
    """The attempts about a day (ISO) that the workbook's records hold. Raises StoreError."""
    file = store_path(workbook)
    if not file.exists():
        return ()
    with Store(file) as store:
        return called_of(store.events(date, f"{date}~", (CALLED,)))


def _last_days(store: Store, book: Workbook, until: str) -> tuple[Event, ...]:
    """Everything recorded of each truck's last day out, among the latest MOST_DAYS_BACK."""
    wanted, found = set(book.trucks), []
    for day in itertools.islice(store.days_of(PLANNED, until), MOST_DAYS_BACK):
        planned = store.events(day, f"{day}~", (PLANNED,))
        out = {row["truck_id"] for event in planned for row in event.body["trucks"]}
        if out & wanted:
            found.append(store.events(day, f"{day}~"))
            wanted -= out
        if not wanted:
            break
    return tuple(event for events in reversed(found) for event in events)


def laid_over(
    book: Workbook, events: Sequence[Event], lately: Sequence[Event], when: date
) -> Outcome:
    """The workbook with the records of the days before `when`. events: applications of those days;
    lately: everything of the last day of each truck."""
    sprayed = [event for event in current(events).values() if kind_of(event) == SPRAYED]
    orders, order_notes = _orders_left(book, sprayed, when)
    history = tuple(_applications(book, sprayed, orders))
    kept = _not_recorded(book.history, history)
    trucks, truck_notes = _trucks(book, lately)
    notes = (*order_notes, *truck_notes)
    if (orders, trucks, kept + history) == (book.orders, book.trucks, book.history):
        return Outcome(book, notes)
    laid = replace(book, orders=orders, trucks=trucks, history=kept + history)
    sha256 = _sha256(book, laid, sprayed)
    done = frozenset(book.orders.keys() - orders.keys())
    return Outcome(replace(laid, sha256=sha256), notes, done)


def _sha256(book: Workbook, laid: Workbook, sprayed: Sequence[Event]) -> str:
    """A plan belongs to its tables and to the records of the days before."""
    standing: list[tuple[object, ...]] = [
        (truck_id, tank.compartment_id, tank.last_mix, tank.leftover_gal)
        for truck_id, truck in laid.trucks.items()
        for tank in truck.compartments
    ]
    standing += [
        (truck_id, line_id, mix_id)
        for truck_id, truck in laid.trucks.items()
        for line_id, mix_id in truck.hose_mix.items()
        if mix_id is not None
    ]
    standing += [
        (truck_id, one.mix_id, one.gal)
        for truck_id, truck in laid.trucks.items()
        for one in truck.service_containers
    ]
    sha = hashlib.sha256(repr((book.sha256, standing)).encode())
    for event in sprayed:
        sha.update(f"{event.seq} {event.sha}\n".encode())
    return sha.hexdigest()


def _applications(
    book: Workbook, sprayed: Sequence[Event], left: Mapping[str, Order]
) -> Iterator[PastApplication]:
    """left: the orders that are not done."""
    for event in sprayed:
        body = event.body
        if body["property_id"] not in book.properties:
            continue
        order = _order_of(book, event)
        rest_of = order.order_id if order is not None and order.order_id in left else ""
        for row in body["products"]:
            if row["product_id"] in book.products:
                kind = "volume" if row["unit"] == "gal" else "mass"
                yield PastApplication(
                    body["property_id"],
                    row["product_id"],
                    date.fromisoformat(event.day),
                    body["area_ft2"],
                    Amount(row["amount"], row["unit"], kind, row["amount"]),
                    body.get("end_min"),
                    rest_of,
                )


def _not_recorded(
    table: tuple[PastApplication, ...], recorded: tuple[PastApplication, ...]
) -> tuple[PastApplication, ...]:
    """Rows of the history table that tell of no recorded application."""
    known = {(row.property_id, row.product_id, row.day) for row in recorded}
    return tuple(row for row in table if (row.property_id, row.product_id, row.day) not in known)


def _order_of(book: Workbook, event: Event) -> Order | None:
    """The order of the table that an application is of."""
    order = book.orders.get(whole_of(event.body))
    # Short names come again next year, and rows get new dates: it is the same order from its
    # first day on, or where the record says that it was done ahead of that day.
    if order is None or not (
        order.due_from.isoformat() <= event.day
        or event.body.get("early_for") == order.due_from.isoformat()
    ):
        return None
    same = (order.property_id, order.mix_id) == (event.body["property_id"], event.body["mix_id"])
    return order if same else None


def _orders_left(
    book: Workbook, sprayed: Sequence[Event], when: date
) -> tuple[dict[str, Order], tuple[str, ...]]:
    """Orders without those that are done, and with the rest of those that are done in part."""
    done_ft2: dict[str, float] = {}
    for event in sprayed:
        order = _order_of(book, event)
        if order is None:
            continue
        done_ft2[order.order_id] = done_ft2.get(order.order_id, 0.0) + event.body["area_ft2"]
    left: dict[str, Order] = {}
    notes: list[str] = []
    done = 0
    for order_id, order in book.orders.items():
        rest_ft2 = order.area_ft2 - done_ft2.get(order_id, 0.0)
        if order_id not in done_ft2:
            left[order_id] = order
        elif rest_ft2 > REST_SHARE * order.area_ft2:
            left[order_id] = replace(order, area_ft2=rest_ft2)
            if order.due_from <= when:
                notes.append(f"order {order_id}: {rest_ft2:,.0f} ft2 of it are left to do")
        elif order.due_from <= when <= order.due_to:
            done += 1
    if done:
        # Of a calendar `when` is its first day, not today.
        orders = f"{done} orders due on" if done > 1 else "1 order that is due on"
        verb = "are" if done > 1 else "is"
        notes.append(f"{orders} {day_text(when)} {verb} recorded as done and not planned again")
    return left, tuple(notes)


def _trucks(book: Workbook, events: Sequence[Event]) -> tuple[dict[str, Truck], tuple[str, ...]]:
    bodies = {name: event.body for name, event in current(events).items()}
    last: dict[str, tuple[str, LoggedTruckDay]] = {}
    for day, days in planned_days(events).values():
        for truck_day in days:
            name = truck_day.truck_id
            if name not in last or day >= last[name][0]:
                last[name] = (day, truck_day)
    trucks, notes = dict(book.trucks), []
    for name, (day, truck_day) in last.items():
        if name not in trucks:
            continue
        replayed = replay(truck_day, bodies)
        if replayed.still_open:
            notes.append(
                f"truck {name}: {len(replayed.still_open)} of its fills and orders of {day} are "
                "not recorded; what is in its compartments is taken from the table"
            )
            continue
        trucks[name], said = _with_levels(book, trucks[name], truck_day, replayed, day)
        notes += said
    return trucks, tuple(notes)


def _with_levels(
    book: Workbook, truck: Truck, truck_day: LoggedTruckDay, replayed: Replayed, day: str
) -> tuple[Truck, list[str]]:
    tanks = {tank.compartment_id: tank for tank in truck_day.tanks}
    notes: list[str] = []
    compartments = []
    for row in truck.compartments:
        tank = tanks.get(row.compartment_id)
        if tank is not None:
            row, said = _with_level(book, truck.truck_id, row, tank, replayed, day)
            notes += said
        compartments.append(row)
    lines = []
    for line in truck.lines:
        line, said = _with_hose(book, truck, line, truck_day, replayed, day)
        lines.append(line)
        notes += said
    found = replace(truck, lines=tuple(lines), compartments=tuple(compartments))
    return _with_containers(book, found, truck_day, replayed, day, notes), notes


def _with_containers(
    book: Workbook,
    truck: Truck,
    logged: LoggedTruckDay,
    replayed: Replayed,
    day: str,
    notes: list[str],
) -> Truck:
    """What was caught stays in its container until a lawn takes it; so does what hoses are drained
    of in the evening."""
    if logged.containers is None:
        return truck
    caught = list(replayed.containers)
    if book.settings.hoses_overnight == "drained":
        hoses = replayed.hose_mix.items()
        caught += [Caught(mix_id, logged.hose_gal[name]) for name, mix_id in hoses if mix_id]
    kept = together(one for one in caught if one.mix_id in book.mixes)
    written = tuple((one.mix_id, one.gal) for one in truck.service_containers)
    if written == logged.table_containers:
        return replace(truck, service_containers=kept)
    if kept != together(truck.service_containers):
        said = "; ".join(f"{one.gal:g} gal of {one.mix_id}" for one in kept) or "nothing"
        notes.append(
            f"truck {truck.truck_id}, service containers: the table was changed after {day} was "
            f"recorded, and counts; the records say {said}"
        )
    return truck


def _with_hose(
    book: Workbook, truck: Truck, line: Line, logged: LoggedTruckDay, replayed: Replayed, day: str
) -> tuple[Line, list[str]]:
    """A hose keeps its mix overnight, unless the office drains it (hoses_overnight)."""
    mix_id = replayed.hose_mix.get(line.line_id)
    if book.settings.hoses_overnight == "drained":
        mix_id = None
    place = f"truck {truck.truck_id}, hose of line {line.line_id}"
    if mix_id == line.hose_mix or line.line_id not in logged.table_hose_mix:
        return line, []
    if mix_id is not None and mix_id not in book.mixes:
        return line, [f"{place}: its last mix {mix_id} is no longer in the table of mixes"]
    if line.hose_mix == logged.table_hose_mix[line.line_id]:
        return replace(line, hose_mix=mix_id), []
    return line, [
        f"{place}: the table was changed after {day} was recorded, and counts; the records say "
        f"{mix_id or 'nothing'}"
    ]


def _with_level(
    book: Workbook, truck_id: str, row: Compartment, tank: Tank, replayed: Replayed, day: str
) -> tuple[Compartment, list[str]]:
    gal = min(replayed.level_gal[row.compartment_id], row.capacity_gal)
    mix_id = replayed.mix_of[row.compartment_id]
    if mix_id is None or gal < NOTHING_GAL:
        gal = 0.0
    recorded = replace(row, leftover_gal=round(gal, 3), last_mix=mix_id)
    place = f"truck {truck_id}, compartment {row.compartment_id}"
    if mix_id is not None and mix_id not in book.mixes:
        return row, [f"{place}: its last mix {mix_id} is no longer in the table of mixes"]
    if (row.last_mix, row.leftover_gal) == (tank.table_mix, tank.table_gal):
        return recorded, []
    if row.last_mix == mix_id and abs(row.leftover_gal - gal) <= SAME_GAL:
        return row, []
    # Somebody wrote into the table after the day was recorded: drained, cleaned, measured.
    return row, [
        f"{place}: the table was changed after {day} was recorded, and counts; the records say "
        f"{gal:.1f} gal of {mix_id or 'nothing'}"
    ]
