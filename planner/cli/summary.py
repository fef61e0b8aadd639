"""A planned day in plain words for the office manager."""

from dataclasses import replace
from pathlib import Path

from planner.chain import PlannedDay
from planner.cli.order_lines import count_line, row_line, section
from planner.day.clock import clock_text
from planner.day.life import no_record_texts
from planner.day.parts import whole_id, whole_ids
from planner.day.roll import roll_of
from planner.papers.again_sheet import change_lines, orders_left
from planner.papers.day_page import refills_said
from planner.papers.left_out import left_out
from planner.plan.figures import compactness
from planner.plan.keep import Kept, stayed
from planner.plan.model import Plan, Totals, TruckPlan
from planner.problems import counted

CHANGES_SHOWN = 12
"""Changes of a day that was planned again; the day page lists them all."""


TITLES = {
    "overdue": "Overdue:",
    "held": "Held by a rule:",
    "unserved": "No room today:",
    "taken ahead": "Taken ahead:",
    "not for today": "Not for today:",
    "given up": "Given up:",
}
"""Groups of orders that are late or not done -> their titles."""


def summary(planned: PlannedDay, folder: Path | None) -> str:
    """The day in about 25 lines: trucks, totals, what was left out and where to look."""
    plan, book = planned.plan, planned.day.workbook
    sums = plan.totals.totals
    money = book.settings.currency
    out = [truck for truck in plan.trucks if truck.stops]
    lines = [
        f"{book.settings.company}: plan for {planned.day.date:%A %B} {planned.day.date.day}, "
        f"{planned.day.date.year}",
        "",
        f"{sums.orders} of {sums.orders + plan.totals.held + plan.totals.unserved} orders on "
        f"{sums.visits} visits by {len(out)} of {len(plan.trucks)} trucks, "
        f"{sums.gal:,.0f} gal sprayed.",
        *_standing(planned),
        f"{hours(sums.paid_min)} paid ({hours(sums.overtime_min)} overtime): "
        f"{hours(sums.drive_min)} driving {sums.drive_miles:,.0f} miles, "
        f"{hours(sums.spray_min)} spraying, {hours(sums.setup_min)} setting up, "
        f"{hours(sums.refill_min)} at {counted(sums.refills, 'refill stop')}, "
        f"{hours(sums.wait_min)} waiting{_yard(sums)}.",
        f"Cost of the day about {money}{sums.cost:,.0f} (pay, miles, trucks; without product).",
        *_compact(planned, len(out)),
        *filter(None, [refills_said(plan, money)]),
        "",
        "truck    leaves    back   orders  refills  miles     gal  heaviest load (of rating)",
        *(_truck_line(planned, truck) for truck in plan.trucks),
    ]
    lines += _again(planned)
    lines += _left_out(plan, planned)
    if planned.day.ahead:
        count = f"{len(planned.day.ahead):,}{' more' if plan.ahead else ''}"
        most = f"{money}{book.settings.work_ahead_price:,.0f}"
        lines += ["", f"Orders that may be done ahead but do not fit at {most} each: {count}."]
    if planned.kept is not None:
        lines += ["", _kept(planned.kept, plan)]
    notes = [f"{text}." for text in no_record_texts(planned.day.no_record, planned.day.date)]
    lines += [f"Note: {note}" for note in (*notes, *planned.notes)]
    if folder is not None:
        lines += [
            "",
            f"Open {folder / 'index.html'} for the day, {folder / 'map.html'} for the map; "
            "each truck's packet is truck-….html beside them.",
            "The product's label is the law and local rules come first: a licensed applicator "
            "checks every sheet.",
        ]
    return "\n".join(lines)


def _standing(planned: PlannedDay) -> list[str]:
    """Where the orders stand; nothing where the day's orders are all that there are."""
    roll = roll_of(planned.day)
    laid_later = len(whole_ids(planned.day.workbook.orders, planned.plan.laid_later))
    ordinary = len(roll.due) == sum(roll.counts.values()) - len(roll.last_day)
    return [] if ordinary else [count_line(roll, len(planned.plan.ahead), laid_later)]


def _compact(planned: PlannedDay, trucks: int) -> list[str]:
    if trucks < 2:
        return []
    found = compactness(planned.plan, planned.day)
    return [
        f"The trucks' areas overlap by {found.overlap_mi2:,.1f} sq mi "
        f"({100 * found.overlap_share:.0f} % of their ground); an order lies "
        f"{found.middle_miles:.1f} miles from the middle of its truck's orders."
    ]


def _kept(kept: Kept, plan: Plan) -> str:
    same, given = stayed(kept, plan)
    near = f" ({len(kept.near)} of them as neighbors of its properties)" if kept.near else ""
    pins = f"; {len(plan.pinned)} pinned" if plan.pinned else ""
    return (
        f"Of {given} orders that {kept.source} has a truck for{near}, {same} stay with it, "
        f"{given - same} go with another{pins}."
    )


def _again(planned: PlannedDay) -> list[str]:
    """What planning again changed, the customers that must hear of it first."""
    again = planned.plan.again
    if again is None:
        return []
    rows = sorted(change_lines(planned.plan, planned.day), key=lambda row: not row.change.tell)
    done = planned.plan.totals.totals.orders - orders_left(planned.plan.trucks, planned.day)
    tell = sum(row.change.tell for row in rows)
    lines = [
        "",
        f"Planned again at {clock_text(again.at_min)}: done by then {done}, changed since "
        f"{len(rows)}, customers to call {tell}.",
    ]
    for row in rows[:CHANGES_SHOWN]:
        was, now = row.change.was_min, row.change.begin_min
        times = f"{clock_text(was)}" if was is not None else ""
        times += f" -> {clock_text(now)}" if now is not None else ""
        lines.append(
            f"  {row.change.order_id} {row.customer}: {row.what}{', ' if times else ''}"
            f"{times.strip()}{' (tell)' if row.change.tell else ''}"
        )
    if len(rows) > CHANGES_SHOWN:
        lines.append(f"  and {len(rows) - CHANGES_SHOWN} more on the day page")
    return lines


def _yard(sums: Totals) -> str:
    """What the yard's clock adds (rule 38), '' without one."""
    words = f", {hours(sums.yard_min)} in the yard" if sums.yard_min else ""
    if sums.unworked_min:
        words += f", {hours(sums.unworked_min)} guaranteed and not worked"
    return words


def hours(minutes: float) -> str:
    """Minutes as '7 h 05 min'."""
    whole = round(minutes)
    return f"{whole // 60} h {whole % 60:02d} min" if whole >= 60 else f"{whole} min"


def _truck_line(planned: PlannedDay, plan: TruckPlan) -> str:
    truck = planned.day.workbook.trucks[plan.truck_id]
    if not plan.stops:
        return f"{plan.truck_id:<8} stays in the yard"
    heaviest = max(stop.weight_lb_after for stop in plan.stops)
    return (
        f"{plan.truck_id:<8}{clock_text(plan.stops[0].leave_min):>8}"
        f"{clock_text(plan.stops[-1].arrive_min):>9}"
        f"{plan.totals.orders:>8}{plan.totals.refills:>9}{plan.totals.drive_miles:>7.0f}"
        f"{plan.totals.gal:>8.0f}  {heaviest:,.0f} lb of {truck.gvwr_lb:,.0f} lb"
    )


def _left_out(plan: Plan, planned: PlannedDay) -> list[str]:
    lines: list[str] = []
    every = planned.day.workbook.orders
    orders = {whole_id(every, name): one for name, one in every.items()}
    for group in left_out(plan, planned.day):
        rows = (
            row_line(planned.day, replace(orders[row.order_id], order_id=row.order_id), row.reason)
            for row in group.rows
        )
        lines += section(TITLES[group.short], rows)
    return lines
