"""What a crew leaves at each property: a slip with the words that the state asks for."""

import re
from dataclasses import dataclass

from planner.compliance.applied import parts_of
from planner.compliance.duties import duties
from planner.day.day import Day
from planner.day.orders import Order
from planner.day.products import Product
from planner.papers.lookup import mix_name, place_text
from planner.plan.model import Plan, Stop, TruckPlan
from planner.plan.off_rate import measured_share


@dataclass(frozen=True)
class SlipProduct:
    """One product put down. rate: as the label writes it, with the share of it that is
    measured where that is another; target: '' = none named."""

    product: Product
    rate: str
    target: str


@dataclass(frozen=True)
class Slip:
    """The slip of one stop. works: (mix, square feet); sentences: that the state wants word for
    word; reentry: of the labels."""

    seq: int
    begin_min: float
    customer: str
    address: str
    works: tuple[tuple[str, float], ...]
    products: tuple[SlipProduct, ...]
    reentry: tuple[str, ...]
    sentences: tuple[str, ...]


def slips(plan: Plan, day: Day) -> tuple[tuple[TruckPlan, tuple[Slip, ...]], ...]:
    """The slips of every truck's stops that are still to be done, in driving order."""
    return tuple(
        (
            truck,
            tuple(
                _slip(stop, truck, day)
                for stop in truck.stops
                if stop.kind == "visit" and not stop.done
            ),
        )
        for truck in plan.trucks
    )


def _slip(stop: Stop, truck: TruckPlan, day: Day) -> Slip:
    place = place_text(day, stop.place_id)
    orders = [day.workbook.orders[one.order_id] for one in stop.orders]
    owed = [duty for order in orders for duty in duties(day, order)]
    informed = [duty for duty in owed if duty.kind == "information"]
    return Slip(
        seq=stop.seq,
        begin_min=stop.begin_min,
        customer=place.title,
        address=place.address,
        works=tuple((mix_name(day, one.mix_id), one.area_ft2) for one in stop.orders),
        products=_products(day, orders, truck),
        reentry=tuple(dict.fromkeys(duty.text for duty in owed if duty.kind == "re-entry")),
        sentences=tuple(
            dict.fromkeys(
                sentence for duty in informed for sentence in re.findall(r'"([^"]+)"', duty.text)
            )
        ),
    )


def _products(day: Day, orders: list[Order], truck: TruckPlan) -> tuple[SlipProduct, ...]:
    names = {order.order_id for order in orders}
    fills = [one for at in truck.stops for one in at.fills if not names.isdisjoint(one.order_ids)]
    found = {
        product.product_id: SlipProduct(
            product, part.rate.text + measured_share(fills, product.product_id), part.target
        )
        for order in orders
        for part, product in parts_of(day.workbook, order)
    }
    return tuple(found.values())
