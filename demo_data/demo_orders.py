"""Orders of the demo day, with the ones that show a rule at work, and what was done before."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from random import Random

from demo_customers import Customer

DATE, NEXT_DATE = "2027-04-14", "2027-04-15"
"""A Wednesday in the middle of the spring round."""


WINDOWS = (
    "8:00-12:00",
    "8:00 AM - 11:30 AM",
    "9:00-11:30; 13:00-15:00",
    "10:00-14:00",
    "12:30 PM - 4:00 PM",
    "7:00-10:00",
    "13:00-16:00",
)


MAIN_MIXES = {"PRE": 27, "BROAD": 21, "GREEN": 13, "INSECT": 8, "DISEASE": 6}


# Second orders at one property: (mix of the first order, second mix).
SECOND_MIXES = (("PRE", "TOTAL"), ("PRE", "TOTAL"), ("GREEN", "TOTAL"), ("BROAD", "TOTAL"),
                ("INSECT", "TOTAL"), ("PRE", "TOTAL"), ("PRE", "BROAD"), ("GREEN", "BROAD"),
                ("PRE", "INSECT"), ("GREEN", "DISEASE"))  # fmt: skip


@dataclass(frozen=True)
class OrderRow:
    """An order before it becomes a row; more: its other cells."""

    customer: Customer
    mix: str
    area_ft2: int | None = None
    more: dict[str, str] = field(default_factory=dict)


def orders_for(customers: list[Customer], random: Random) -> list[OrderRow]:
    """One order per property, some second ones, and the set pieces."""
    mixes = [mix for mix, count in MAIN_MIXES.items() for _ in range(count)]
    random.shuffle(mixes)
    orders = [
        OrderRow(customer, mix, None, _order_cells(mix, random))
        for customer, mix in zip(customers, mixes, strict=True)
    ]
    orders = _with_second_orders(orders, random)
    return _with_set_pieces(orders)


def _order_cells(mix: str, random: Random) -> dict[str, str]:
    cells = {"date": DATE, "priority": random.choice(("1", "2", "2", "2", "2", "3"))}
    if random.random() < 0.35:
        first, last = random.choice(
            (("2027-04-12", "2027-04-16"), ("2027-04-14", "2027-04-20"), ("4/10/2027", "4/14/2027"))
        )
        cells.update({"date": "", "due_from": first, "due_to": last})
    # The wind ends broadleaf work about 1 pm: such an order gets no afternoon window here.
    if random.random() < 0.3:
        cells["windows"] = random.choice(WINDOWS[:4] if mix == "BROAD" else WINDOWS)
    return cells


def _with_second_orders(orders: list[OrderRow], random: Random) -> list[OrderRow]:
    taken: set[str] = set()
    seconds = []
    for first_mix, second_mix in SECOND_MIXES:
        free = [
            o
            for o in orders
            if o.mix == first_mix
            and o.customer.property_id not in taken
            and o.customer.lawn_ft2 < 20_000
        ]
        first = random.choice(free)
        taken.add(first.customer.property_id)
        area = random.randrange(300, 1_501, 50) if second_mix == "TOTAL" else None
        cells = {k: v for k, v in first.more.items() if k in ("date", "due_from", "due_to")}
        cells.update({"priority": "2", "windows": first.more.get("windows", "")})
        if second_mix == "BROAD":
            cells["windows"] = ""
        if second_mix == "TOTAL":
            cells["note"] = random.choice(
                (
                    "Gravel drive edge",
                    "Bed edges and walk joints",
                    "Fence line behind the shed",
                    "Old patio joints",
                )
            )
        seconds.append(OrderRow(first.customer, second_mix, area, cells))
    result = []
    for order in orders:
        result.append(order)
        result += [s for s in seconds if s.customer is order.customer]
    return result


def _with_set_pieces(orders: list[OrderRow]) -> list[OrderRow]:
    """The orders that show a rule at work, each at its own property."""
    used: set[str] = {o.customer.property_id for o in orders if o.mix == "TOTAL"}

    def pick(mix: str, zone: str, **cells: str) -> OrderRow:
        """The next free order of a mix, in the zone if it has one; a lawn that a short window
        can hold."""
        free = [
            (order.customer.address.zone != zone, k)
            for k, order in enumerate(orders)
            if order.mix == mix
            and (order.customer.lawn_ft2 < 18_000 or "Long hose" in cells["note"])
            and order.customer.property_id not in used
            and sum(o.customer is order.customer for o in orders) == 1
        ]
        _, k = min(free)
        used.add(orders[k].customer.property_id)
        orders[k] = replace(orders[k], more={**orders[k].more, **cells})
        return orders[k]

    day = {"date": DATE, "due_from": "", "due_to": ""}
    pick(
        "PRE", "estate", note="Long hose: house stands far back", windows="", **day
    ).customer.row.update(hose_run_ft="385")
    pick(
        "BROAD", "core", note="Bowling-green turf kept by the owner", windows="", **day
    ).customer.row.update(grass="bentgrass")
    pick("BROAD", "suburb", note="Asked for a second go at the clover", windows="", **day)
    pick("GREEN", "core", note="Only before the shop opens", windows="6:15-6:45", **day)
    pick(
        "PRE",
        "suburb",
        note="Soft ground: wants the pickup only",
        only_trucks="T5",
        windows="",
        **day,
    ).customer.row.update(hose_run_ft="290")
    # Two mixes that only Truck 5 may bring: it goes out, and its dirty compartment is cleaned.
    for mix, zone, note in (
        ("BROAD", "core", "Alley behind the house: pickup only"),
        ("BROAD", "suburb", "Shared drive with a low gate: pickup only"),
        ("GREEN", "suburb", "Paver drive, light trucks only: pickup"),
        ("GREEN", "core", "Alley behind the house: pickup only"),
    ):
        pick(mix, zone, note=note, only_trucks="T5")
    pick("INSECT", "suburb", note="Knows Renee; wants her truck", only_trucks="T2", **day)
    pick("DISEASE", "suburb", note="Wants Renee or Dale", only_trucks="T1; T2")
    pick("GREEN", "suburb", note="Brick drive: not the heavy truck", never_trucks="T1")
    pick("PRE", "core", note="Alley too tight for long trucks", never_trucks="T1; T2")
    pick("BROAD", "suburb", note="Complaint last year: not Truck 4", never_trucks="T4")
    pick(
        "PRE",
        "village",
        note="School: only after classes",
        windows="3:15 PM - 5:00 PM",
        priority="1",
        **day,
    )
    pick("BROAD", "suburb", note="Graduation party Saturday", priority="1", windows="", **day)
    pick(
        "GREEN",
        "suburb",
        note="New customer, first visit",
        priority="1",
        windows="9:00 AM - 11:00 AM",
        **day,
    )
    return orders


def order_row(number: int, order: OrderRow) -> dict[str, str]:
    """The row of the orders table."""
    names = (
        "date",
        "due_from",
        "due_to",
        "windows",
        "priority",
        "only_trucks",
        "never_trucks",
        "note",
    )
    return {
        "order": str(number),
        "property": order.customer.property_id,
        "mix": order.mix,
        "area_ft2": "" if order.area_ft2 is None else str(order.area_ft2),
        **{name: order.more.get(name, "") for name in names},
    }


def history_of(orders: list[OrderRow], random: Random) -> list[dict[str, str]]:
    """Last year's work at some customers, and the visit that holds one order back."""
    rows = []
    for order in orders:
        home = order.customer
        thousands = home.lawn_ft2 / 1_000
        if order.more.get("note") == "Asked for a second go at the clover":
            rows.append((home, "TRIO", "2027-03-29", f"{1.3 * thousands:.1f} fl oz"))
        elif order.mix != "TOTAL" and random.random() < 0.25:
            rows.append((home, "UREA28", "2026-09-08", f"{0.5 / 0.28 / 10.6 * thousands:.2f} gal"))
            rows.append((home, "TRIO", "10/06/2026", f"{1.2 * thousands:.1f} fl oz"))
    return [
        {"property": home.property_id, "product": product, "date": date,
         "area_ft2": str(home.lawn_ft2), "amount": amount}
        for home, product, date, amount in rows
    ]  # fmt: skip
