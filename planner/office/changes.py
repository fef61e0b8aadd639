"""One change of the office -> the stop order that it makes of the one before, and its words."""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf
from typing import Any, Final

from planner.by_hand.sheet import LOAD, LUNCH, ORDER, REFILL, HandRow, rows_of_plan
from planner.day.day import Day
from planner.office.facts import items_of
from planner.plan.model import Plan
from planner.problems import PlannerError


class Refused(PlannerError):
    """A change that cannot be made, in words."""


@dataclass(frozen=True)
class Wanted:
    """rows: of the stop order; trucks_out: taken out of the day; said: what was done, in words."""

    rows: tuple[HandRow, ...]
    trucks_out: tuple[str, ...]
    said: str


Change = Mapping[str, Any]
"""{"kind": ..., ...} as planner/serve describes it."""


class StopOrder:
    """A plan's rows by truck, to be changed. loads, items: by truck."""

    def __init__(self, plan: Plan, day: Day, trucks_out: Sequence[str]) -> None:
        self.day, self.trucks_out = day, list(trucks_out)
        self.loads: dict[str, list[HandRow]] = {name: [] for name in day.workbook.trucks}
        self.items: dict[str, list[HandRow]] = {name: [] for name in day.workbook.trucks}
        # Of each truck, what was done when the day was planned again: items, and of each kind.
        self.done: dict[str, Counter[str]] = {name: Counter() for name in day.workbook.trucks}
        for planned in plan.trucks:
            behind = self.done[planned.truck_id]
            behind.update(item.kind for item in items_of(planned) if item.done)
        for row in rows_of_plan(plan):
            (self.loads if row.does == LOAD else self.items)[row.truck].append(row)

    def rows(self) -> tuple[HandRow, ...]:
        """All rows, truck after truck."""
        return tuple(row for name in self.items for row in (*self.loads[name], *self.items[name]))

    def find(self, name: str, truck_id: str = "") -> tuple[str, int] | None:
        """Truck and row of 'order 2101', or of 'refill 0' of a truck; None = nobody does it."""
        does, _, what = name.partition(" ")
        if does == ORDER:
            for truck, rows in self.items.items():
                for at, row in enumerate(rows):
                    if row.does == ORDER and row.what == what:
                        return truck, at
            return None
        rows = self.items.get(truck_id, [])
        places = [at for at, row in enumerate(rows) if row.does == does]
        number = int(what) if what.isdigit() else -1
        number -= self.done[truck_id][does] if truck_id in self.done else 0
        return (truck_id, places[number]) if 0 <= number < len(places) else None


def wanted(change: Change, plan: Plan, day: Day, trucks_out: Sequence[str]) -> Wanted:
    """What a change makes of the plan. Raises Refused."""
    kind = _text(change, "kind")
    make = _KINDS.get(kind)
    if make is None:
        raise Refused(f"There is no change '{kind}'.")
    order = StopOrder(plan, day, trucks_out)
    said = make(order, change)
    return Wanted(order.rows(), tuple(order.trucks_out), said)


def _move(order: StopOrder, change: Change) -> str:
    names = _orders(change, order.day)
    truck_id = _truck(change, order)
    target = order.items[truck_id]
    gap = _gap(change, order, truck_id)
    moved: list[HandRow] = []
    for name in names:
        found = order.find(f"{ORDER} {name}")
        if found is None:
            moved.append(_row(truck_id, ORDER, name, order.day.orders[name].mix_id))
            continue
        row = order.items[found[0]].pop(found[1])
        pinned = row.pinned and found[0] == truck_id
        moved.append(replace(row, truck=truck_id, pinned=pinned, place=f"truck {truck_id}"))
        if found[0] == truck_id and found[1] < gap:
            gap -= 1
    target[gap:gap] = moved
    if change.get("compartment"):
        mix_id = order.day.orders[names[0]].mix_id
        _set_load(order, truck_id, _text(change, "compartment"), mix_id)
    return f"{_named(names)} to truck {truck_id}"


def _remove(order: StopOrder, change: Change) -> str:
    names = _orders(change, order.day)
    for name in names:
        found = order.find(f"{ORDER} {name}")
        if found is None:
            raise Refused(f"Order {name} is not in the day.")
        order.items[found[0]].pop(found[1])
    return f"{_named(names)} out of the day"


def _refill_add(order: StopOrder, change: Change) -> str:
    truck_id, site_id = _truck(change, order), _text(change, "site")
    if site_id not in order.day.workbook.sites:
        raise Refused(f"There is no site '{site_id}'.")
    target = order.items[truck_id]
    target.insert(_gap(change, order, truck_id), _row(truck_id, REFILL, site_id))
    return f"refill of truck {truck_id} added"


def _refill_move(order: StopOrder, change: Change) -> str:
    truck_id, at = _own(change, order, REFILL)
    to = _truck(change, order, "to") if "to" in change else truck_id
    gap = _gap(change, order, to)
    row = order.items[truck_id].pop(at)
    if to == truck_id and at < gap:
        gap -= 1
    site = change.get("site", row.what)
    if site not in order.day.workbook.sites:
        raise Refused(f"There is no site '{site}'.")
    order.items[to].insert(gap, replace(row, truck=to, what=site))
    return f"refill of truck {truck_id} moved"


def _refill_delete(order: StopOrder, change: Change) -> str:
    truck_id, at = _own(change, order, REFILL)
    order.items[truck_id].pop(at)
    return f"refill of truck {truck_id} taken out"


def _lunch_move(order: StopOrder, change: Change) -> str:
    truck_id = _truck(change, order)
    target = order.items[truck_id]
    gap = _gap(change, order, truck_id)
    for at in reversed([at for at, row in enumerate(target) if row.does == LUNCH]):
        target.pop(at)
        if at < gap:
            gap -= 1
    target.insert(gap, _row(truck_id, LUNCH, ""))
    return f"lunch of truck {truck_id} moved"


def _lunch_delete(order: StopOrder, change: Change) -> str:
    truck_id = _truck(change, order)
    rows = [row for row in order.items[truck_id] if row.does != LUNCH]
    if len(rows) == len(order.items[truck_id]):
        raise Refused(f"Truck {truck_id} has no lunch ahead.")
    order.items[truck_id] = rows
    return f"lunch of truck {truck_id} taken out"


def _load(order: StopOrder, change: Change) -> str:
    truck_id, name = _truck(change, order), _text(change, "compartment")
    mix_id = change.get("mix") or ""
    if mix_id and mix_id not in order.day.workbook.mixes:
        raise Refused(f"There is no mix '{mix_id}'.")
    at = _set_load(order, truck_id, name, mix_id)
    rows = order.loads[truck_id]
    if "fill_to_gal" in change:
        gal = change["fill_to_gal"]
        if gal is not None and not (type(gal) in (int, float) and 0 <= gal < inf):
            raise Refused(f"'{gal}' is no number of gallons.")
        rows[at] = replace(rows[at], fill_to_gal=None if gal is None else float(gal))
    gal = rows[at].fill_to_gal
    most = "" if gal is None else f", at most {gal:g} gal"
    return f"{mix_id or 'nothing'} in compartment {name} of truck {truck_id}{most}"


def _pin(order: StopOrder, change: Change) -> str:
    pinned, names = change["kind"] == "pin", _orders(change, order.day)
    for name in names:
        found = order.find(f"{ORDER} {name}")
        if found is None:
            raise Refused(f"Order {name} is not in the day: there is no truck to pin it to.")
        rows = order.items[found[0]]
        rows[found[1]] = replace(rows[found[1]], pinned=pinned)
    return f"{_named(names)} {'pinned' if pinned else 'unpinned'}"


def _truck_out(order: StopOrder, change: Change) -> str:
    truck_id = _known_truck(change, order)
    if truck_id in order.trucks_out:
        raise Refused(f"Truck {truck_id} is out of the day already.")
    order.trucks_out.append(truck_id)
    order.items[truck_id] = []
    return f"truck {truck_id} out of the day"


def _truck_in(order: StopOrder, change: Change) -> str:
    truck_id = _known_truck(change, order)
    if truck_id not in order.trucks_out:
        raise Refused(f"Truck {truck_id} is in the day.")
    order.trucks_out.remove(truck_id)
    return f"truck {truck_id} back in the day"


_KINDS: Final[Mapping[str, Callable[[StopOrder, Change], str]]] = {
    "move": _move,
    "put_in": _move,
    "remove": _remove,
    "refill_add": _refill_add,
    "refill_move": _refill_move,
    "refill_delete": _refill_delete,
    "lunch_move": _lunch_move,
    "lunch_delete": _lunch_delete,
    "load": _load,
    "pin": _pin,
    "unpin": _pin,
    "truck_out": _truck_out,
    "truck_in": _truck_in,
}


def _set_load(order: StopOrder, truck_id: str, name: str, mix_id: str) -> int:
    """The row of the truck's loads that it now stands in."""
    rows = order.loads[truck_id]
    for at, row in enumerate(rows):
        if row.what == name:
            rows[at] = replace(row, mix=mix_id)
            return at
    names = [one.compartment_id for one in order.day.workbook.trucks[truck_id].compartments]
    if name not in names:
        raise Refused(f"Truck {truck_id} has no compartment '{name}'.")
    rows.append(_row(truck_id, LOAD, name, mix_id))
    return len(rows) - 1


def _row(truck: str, does: str, what: str, mix: str = "") -> HandRow:
    return HandRow("the day", None, truck, does, what, mix, False, f"truck {truck}")


def _text(change: Change, name: str) -> str:
    value = change.get(name)
    if not isinstance(value, str) or not value:
        raise Refused(f"The change does not say its {name}.")
    return value


def _orders(change: Change, day: Day) -> list[str]:
    names = change.get("orders")
    if not isinstance(names, list) or not names or not all(isinstance(one, str) for one in names):
        raise Refused("The change does not say its orders.")
    for name in names:
        if name not in day.orders:
            raise Refused(f"Order {name} is not among those due on the day.")
    return list(dict.fromkeys(names))


def _known_truck(change: Change, order: StopOrder, name: str = "truck") -> str:
    truck_id = _text(change, name)
    if truck_id not in order.items:
        raise Refused(f"There is no truck '{truck_id}' in service.")
    return truck_id


def _truck(change: Change, order: StopOrder, name: str = "truck") -> str:
    truck_id = _known_truck(change, order, name)
    if truck_id in order.trucks_out:
        raise Refused(f"Truck {truck_id} is out of the day; put it back in first.")
    return truck_id


def _own(change: Change, order: StopOrder, does: str) -> tuple[str, int]:
    truck_id, item = _truck(change, order), _text(change, "item")
    found = order.find(item, truck_id) if item.startswith(does) else None
    if found is None:
        raise Refused(f"Truck {truck_id} has no {item}.")
    return found


def _gap(change: Change, order: StopOrder, truck_id: str) -> int:
    """The row of the truck's items before which it goes."""
    behind = order.done[truck_id].total()
    most = behind + len(order.items[truck_id])
    gap = change.get("gap", most)
    if not isinstance(gap, int) or isinstance(gap, bool) or not behind <= gap <= most:
        done = f"; {behind} before them are done" if behind else ""
        raise Refused(f"There is no gap {gap}: truck {truck_id} has gaps {behind} to {most}{done}.")
    return gap - behind


def _named(names: Sequence[str]) -> str:
    return f"order {names[0]}" if len(names) == 1 else f"orders {', '.join(names)}"
