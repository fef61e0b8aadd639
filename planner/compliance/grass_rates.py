"""A label's rates where they differ by grass or target (table product_rates)."""

from collections.abc import Iterator

from planner.compliance.applied import parts_of, rates_about
from planner.compliance.label_checks import compared
from planner.day.day import Workbook
from planner.day.orders import Order
from planner.mixing.mosts import slack


def rate_reasons(workbook: Workbook, order: Order) -> Iterator[tuple[str, str]]:
    """(code, reason) for every product that is over its most, or under its least, on this grass or
    for this target."""
    mix = workbook.mixes[order.mix_id]
    for part, product in parts_of(workbook, order):
        for row in rates_about(workbook, order, part):
            most = compared(mix, product, part.rate, row.rate_most)
            if most is None or most > row.rate_most.most_base * slack(part.rate, row.rate_most):
                yield (
                    "RATE",
                    f"{product.name} is mixed at {part.rate.text}; its label allows "
                    f"{row.rate_most.text} {row.about or 'at most'}",
                )
            if row.rate_least is None:
                continue
            least = compared(mix, product, part.rate, row.rate_least)
            if least is None or least * slack(part.rate, row.rate_least) < row.rate_least.most_base:
                yield (
                    "RATE",
                    f"{product.name} is mixed at {part.rate.text}; its label asks for at least "
                    f"{row.rate_least.text} {row.about}".rstrip(),
                )
