"""A comparison in plain words for the owner."""

from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from planner.compare.model import Comparison, FleetResult
from planner.compare.verdict import LICENSE_TIERS, number
from planner.compliance.thresholds import ADVISER_TEXT
from planner.problems import counted, few
from planner.routing.unserved.reasons import UNSERVED_CODES
from planner.weeks.model import WAITING_CODES

MOST_NAMED = 4
"""Days named in one line; the files have all."""


def summary(comparison: Comparison, folder: Path) -> str:
    """The verdict, the fleets in order of rank, what each cannot do, and where to look."""
    fleets = sorted(comparison.fleets, key=lambda one: (one.rank is None, one.rank or 0))
    width = max(5, *(len(fleet.name) for fleet in fleets))
    days = len(comparison.dates)
    lines = [
        *comparison.verdict,
        "",
        f"{comparison.company}: {counted(len(fleets), 'fleet')} on {counted(days, 'day')}, "
        f"{comparison.dates[0]} to {comparison.dates[-1]} ({comparison.engine}, "
        f"{comparison.effort}, seed {comparison.seed})",
        "",
        f"place  {'fleet':<{width}}  a day: cost    against present     hours  overtime  miles  "
        "refills  trucks most  days it cannot serve",
        *(_line(comparison, fleet, width) for fleet in fleets),
    ]
    for fleet in fleets:
        lines += ["", *(_more(comparison, fleet))]
    lines += ["", *_spread(comparison)]
    notes = (comparison.roads_warning, *comparison.notes)
    lines += [f"Note: {note}" for note in notes if note]
    lines += [
        "",
        f"Open {folder / 'index.html'} for pictures, tables and the assumptions; the CSV files "
        "beside it hold the figures, comparison.json all of it.",
        ADVISER_TEXT,
    ]
    return "\n".join(lines)


def _line(comparison: Comparison, fleet: FleetResult, width: int) -> str:
    place = "-" if fleet.rank is None else str(fleet.rank)
    if not fleet.stats:
        return f"{place:>5}  {fleet.name:<{width}}  no day could be planned"
    stats = fleet.stats
    bad = len(fleet.bad_dates)
    return (
        f"{place:>5}  {fleet.name:<{width}}"
        f"{comparison.currency + format(stats['cost'].mean, ',.0f'):>13}"
        f"{_against(comparison, fleet):>19}"
        f"{stats['paid_min'].mean / 60:>10.1f}{stats['overtime_min'].mean / 60:>10.1f}"
        f"{stats['drive_miles'].mean:>7.0f}{stats['refills'].mean:>9.1f}"
        f"{stats['trucks_out'].worst:>13.0f}"
        f"{(f'{bad} of {len(fleet.days)}' if bad else 'none'):>22}"
    )


def _against(comparison: Comparison, fleet: FleetResult) -> str:
    if fleet.against_present is None:
        return "-"
    paired = fleet.against_present.figures.get("cost")
    if paired is None:
        return "no day to compare"
    if paired.tie:
        return "tie"
    sign = "+" if paired.mean > 0 else "-"
    return f"{sign}{comparison.currency}{abs(paired.mean):,.0f}"


def _more(comparison: Comparison, fleet: FleetResult) -> Iterator[str]:
    yield f"{fleet.name}: {fleet.words}; {fleet.rank_words}."
    if fleet.against_present is not None:
        compared, rest = fleet.against_present.dates, fleet.against_present.other_days
        text = f"  {len(compared)} of {len(comparison.dates)} days compared with the present fleet"
        if rest:
            text += f"; orders differ on {few([day.date for day in rest], MOST_NAMED, ' days')}"
        yield text
    if fleet.late_orders is not None:
        yield (
            f"  {counted(fleet.late_orders, 'order')} late in its calendar, priced by priority "
            f"with the chance of it at {comparison.currency}{fleet.late_cost or 0.0:,.0f} a day; "
            f"{number(fleet.without_day or 0)} without a day"
        )
    if fleet.unserved_dates:
        dates = few(fleet.unserved_dates, MOST_NAMED, " days")
        yield f"  leaves out orders that another fleet does on {dates} ({_reasons(fleet)})"
    for day in fleet.days:
        if day.fault:
            yield f"  {day.date} cannot be planned: {day.fault}"
    yield from _binding(fleet)


def _reasons(fleet: FleetResult) -> str:
    """Why orders are left out on those days, by kind."""
    titles = {**WAITING_CODES, **UNSERVED_CODES}
    kinds = Counter(
        titles.get(row.code, row.code)
        for day in fleet.days
        if day.date in fleet.unserved_dates
        for row in day.unserved
    )
    return "; ".join(f"{count} × {title}" for title, count in kinds.most_common())


def _binding(fleet: FleetResult) -> Iterator[str]:
    bound = [
        f"{truck.truck_id} {tank.compartment_id} on {tank.bound_days}"
        for truck in fleet.trucks
        for tank in truck.tanks
        if tank.bound_days
    ]
    if bound:
        yield f"  days on which a compartment was too small for one fill: {', '.join(bound)}"
    heavy = [
        f"{truck.truck_id} {truck.heaviest_lb:,.0f} of {truck.gvwr_lb:,.0f} lb"
        + (f", bound on {counted(truck.bound_days, 'day')}" if truck.bound_days else "")
        for truck in fleet.trucks
        if truck.days_out
    ]
    if heavy:
        yield f"  heaviest loads: {'; '.join(heavy)}"
    for truck in fleet.trucks:
        for threshold in truck.thresholds:
            if threshold.reached and threshold.rule_id in LICENSE_TIERS:
                yield f"  {truck.truck_id}: {threshold.line}"


def _spread(comparison: Comparison) -> Iterator[str]:
    spread = comparison.spread
    if spread is None:
        yield "The planner's own spread was not measured; small differences may be chance."
        return
    yield (
        f"Ties are differences within the planner's own spread: {len(spread.sample)} days, "
        f"{len(spread.seeds)} seeds, {comparison.currency}"
        f"{spread.standard_deviation['cost']:,.1f} a plan (standard deviation)."
    )
