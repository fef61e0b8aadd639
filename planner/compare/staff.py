"""What a truck more or a heavier one asks of the person on it: a comparison counts pay, and no
license."""

from collections.abc import Iterator, Sequence

from planner.compare.fleets import Fleet
from planner.compliance.licensed import needs, state_of
from planner.compliance.thresholds import is_commercial_motor_vehicle, needs_license_group_b
from planner.day.day import Workbook
from planner.problems import few
from planner.rules.data import truck_rules


def staff_lines(book: Workbook, fleets: Sequence[Fleet]) -> Iterator[str]:
    """A sentence where fleets have more trucks than the present one, which is the first, and one
    where they have trucks that nobody in the table may drive."""
    yield from _more_trucks(book, fleets)
    yield from _commercial_drivers(book, fleets)


def _commercial_drivers(book: Workbook, fleets: Sequence[Fleet]) -> Iterator[str]:
    _, *others = fleets
    trucks = [
        f"{name} of {one.name}"
        for one in others
        for name, truck in one.trucks.items()
        if needs_license_group_b(truck.gvwr_lb) and name not in one.kept_as
    ]
    if not trucks or any(one.cdl_class in ("A", "B") for one in book.applicators):
        return
    section = truck_rules()["license group B"].origin.cited
    unknown = any(one.cdl_class is None for one in book.applicators) or not book.applicators
    yield (
        f"{few(trucks, 4)}: rated at 26,001 lb or more, so whoever drives needs a commercial "
        f"driver's license of class A or B ({section}), and nobody in the table applicators "
        f"{'is known to have' if unknown else 'has'} one. The figures drive it all the same."
    )


def _more_trucks(book: Workbook, fleets: Sequence[Fleet]) -> Iterator[str]:
    present, *others = fleets
    larger = [one for one in others if len(one.trucks) > len(present.trucks)]
    if not larger:
        return
    asked = "; ".join(licenses_asked(book))
    what = asked or "the license or certificate that the state asks for this work"
    heavy = any(
        is_commercial_motor_vehicle(truck.gvwr_lb)
        for one in larger
        for truck in one.trucks.values()
    )
    card = "; on trucks of 10,001 lb or more a medical card" if heavy else ""
    yield (
        f"More trucks than now ({few([one.name for one in larger], 4)}): on each that goes out, "
        f"somebody needs {what}{card}. Finding, training and certifying people is in no figure; "
        "ask the state how long it takes."
    )


def licenses_asked(book: Workbook) -> list[str]:
    """What the orders of the table ask of somebody on the truck, by state, each once with its
    section."""
    kinds = {(one.mix_id, state_of(book, one.property_id)): one for one in book.orders.values()}
    asked: dict[str, dict[str, None]] = {}
    for (_, state), order in sorted(kinds.items(), key=lambda kind: kind[0][1]):
        for need in needs(book, order):
            asked.setdefault(state, {})[f"{need.text} ({need.cited})"] = None
    return [
        " and ".join(texts) + (f" in {state}" if state else "") for state, texts in asked.items()
    ]
