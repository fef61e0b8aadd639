"""The clock of a truck's day, added up again stop by stop (rules 12 to 15).

Each stop is checked against the plan's own end of the stop before it, so that one wrong figure is
reported once and does not spoil the rest of the day.
"""

from collections.abc import Iterator

from planner.day.clock import Window, clock_text
from planner.plan.audit.case import (
    DEGREE_TOLERANCE,
    MILE_TOLERANCE,
    MINUTE_TOLERANCE,
    TruckCase,
    Violation,
    differs,
    exceeds,
)
from planner.plan.audit.rules_works import order_gal
from planner.plan.model import Stop, Work

KINDS = ("depart", "visit", "refill", "lunch", "return")


def check_stop_numbers(case: TruckCase) -> Iterator[Violation]:
    """Stops are numbered 0, 1, 2 ... in order."""
    for row, stop in enumerate(case.planned.stops):
        if stop.seq != row:
            yield case.found("STOP-SEQ", row, f"numbered {stop.seq}, should be {row}")


def check_ends_of_the_day(case: TruckCase) -> Iterator[Violation]:
    """The day begins with one departure from the yard and ends with one return to it."""
    stops = case.planned.stops
    if not stops:
        return
    yard = case.truck.yard_id
    for row, kind in ((0, "depart"), (len(stops) - 1, "return")):
        if stops[row].kind != kind or stops[row].place_id != yard:
            yield case.found(
                "STOP-ENDS",
                row,
                f"should be a {kind} at {yard}, is a {stops[row].kind} at {stops[row].place_id}",
            )
    for row, stop in enumerate(stops):
        if stop.kind not in KINDS:
            yield case.found("STOP-KIND", row, f"'{stop.kind}' is no kind of stop")
        elif stop.kind == "return" and stop.done:
            # It was home when the office sent it out again.
            continue
        elif stop.kind in ("depart", "return") and 0 < row < len(stops) - 1:
            yield case.found("STOP-ENDS", row, f"a {stop.kind} in the middle of the day")


def check_contents_of_stops(case: TruckCase) -> Iterator[Violation]:
    """Orders belong to visits, fills to departure and refills."""
    for row, stop in enumerate(case.planned.stops):
        if stop.kind == "visit" and not stop.orders:
            yield case.found("STOP-CONTENT", row, "a visit without an order")
        if stop.kind != "visit" and stop.orders:
            yield case.found("STOP-CONTENT", row, f"a {stop.kind} with orders")
        if stop.kind not in ("depart", "refill") and stop.fills:
            yield case.found("STOP-CONTENT", row, f"a {stop.kind} with fills")


def check_visits_are_joined(case: TruckCase) -> Iterator[Violation]:
    """Orders next to each other at one property are one visit, set up once."""
    stops = case.planned.stops
    for row in range(1, len(stops)):
        before, stop = stops[row - 1], stops[row]
        if before.done:
            # Whoever goes on where the truck stands has rolled up the hose and sets up anew.
            continue
        if before.kind == stop.kind == "visit" and before.place_id == stop.place_id:
            yield case.found("STOP-JOIN", row, f"a second visit in a row to {stop.place_id}")


def check_positions(case: TruckCase) -> Iterator[Violation]:
    """Latitude and longitude of each stop are those of its place."""
    book = case.day.workbook
    for row, stop in enumerate(case.planned.stops):
        place = book.sites.get(stop.place_id) or book.properties[stop.place_id]
        if differs(stop.lat, place.lat, DEGREE_TOLERANCE) or differs(
            stop.lon, place.lon, DEGREE_TOLERANCE
        ):
            yield case.found(
                "STOP-PLACE",
                row,
                f"{stop.place_id} lies at {place.lat:.5f}, {place.lon:.5f}, the plan says "
                f"{stop.lat:.5f}, {stop.lon:.5f}",
            )


def check_departure(case: TruckCase) -> Iterator[Violation]:
    """The crew reports when its shift starts; the truck departs when it is ready and filled. When
    it begins to fill where trucks wait for each other is rules_sites' to say."""
    if not case.planned.stops:
        return
    stop, ready = case.planned.stops[0], case.loads_from_min
    if stop.done:
        return
    morning = case.truck.yard_loading == "morning"
    lasts = case.first_fill_min if morning else 0.0
    yard = case.day.workbook.sites[case.truck.yard_id]
    alone = not lasts or yard.trucks_at_once is None
    for does, minute, right in (
        (
            "reports" if case.truck.inspection_min or morning else "departs",
            stop.arrive_min,
            case.depart_min,
        ),
        ("begins to load", stop.begin_min, ready if alone else stop.begin_min),
        ("departs", stop.leave_min, stop.begin_min + lasts),
    ):
        if differs(minute, right, MINUTE_TOLERANCE):
            yield case.found(
                "CLOCK-DEPART", 0, f"{does} at {clock_text(minute)}, should be {clock_text(right)}"
            )
            return


def check_drives(case: TruckCase) -> Iterator[Violation]:
    """Drive minutes and miles are those of the roads; arrival is departure plus drive."""
    rows = case.travel.index()
    here = case.truck.yard_id
    before: Stop | None = None
    for row, stop in enumerate(case.planned.stops):
        a, b = rows[here], rows[stop.place_id]
        minutes, miles = float(case.travel.minutes[a, b]), float(case.travel.miles[a, b])
        if differs(stop.drive_min, minutes, MINUTE_TOLERANCE) or differs(
            stop.drive_miles, miles, MILE_TOLERANCE
        ):
            yield case.found(
                "CLOCK-DRIVE",
                row,
                f"{stop.drive_min:.2f} min and {stop.drive_miles:.2f} mi from {here} to "
                f"{stop.place_id}, by the roads {minutes:.2f} min and {miles:.2f} mi",
            )
        if before is not None and not stop.done:
            leaves = before.leave_min
            if before.done or (before.kind == "lunch" and row - 1 == case.done):
                leaves = max(leaves, case.goes_on_min)
            right = leaves + stop.drive_min
            if stop.kind == "lunch" and before.done and before.leave_min <= stop.arrive_min:
                # A crew may have lunch while it stands.
                right = min(right, stop.arrive_min)
            if differs(stop.arrive_min, right, MINUTE_TOLERANCE):
                yield case.found(
                    "CLOCK-ARRIVE",
                    row,
                    f"arrives at minute {stop.arrive_min:.2f}; it left the stop before at "
                    f"{leaves:.2f} and drove {stop.drive_min:.2f}",
                )
        before, here = stop, stop.place_id


def check_visits(case: TruckCase) -> Iterator[Violation]:
    """Waiting, set-up, changeover and spraying of each visit add up."""
    for row, stop in case.fresh():
        if stop.kind != "visit" or not stop.orders:
            continue
        ready = stop.arrive_min
        for number, work in enumerate(stop.orders):
            yield from _one_work(case, row, stop, number, work, ready)
            ready = work.end_min
        if differs(stop.leave_min, ready, MINUTE_TOLERANCE):
            yield case.found(
                "CLOCK-LEAVE",
                row,
                f"leaves at minute {stop.leave_min:.2f}, its last order ends at {ready:.2f}",
            )


def check_windows(case: TruckCase) -> Iterator[Violation]:
    """Each order begins and ends inside one window of customer and weather."""
    for row, stop in case.fresh():
        for number, work in enumerate(stop.orders):
            windows = case.windows[work.order_id]
            start = stop.begin_min if number == 0 else work.begin_min
            if windows is None or any(
                not exceeds(window.open_min, start, MINUTE_TOLERANCE)
                and not exceeds(work.end_min, window.close_min, MINUTE_TOLERANCE)
                for window in windows
            ):
                continue
            allowed = ", ".join(
                f"{clock_text(w.open_min)} to {clock_text(w.close_min)}" for w in windows
            )
            yield case.found(
                "WINDOW",
                row,
                f"order {work.order_id} from {clock_text(start)} to {clock_text(work.end_min)}; "
                f"it may be done {allowed or 'at no time'}",
            )


def check_refills(case: TruckCase) -> Iterator[Violation]:
    """A refill waits for opening, lasts set-up plus gallons / flow, and ends by closing. Where
    trucks wait for each other as well, when it begins is rules_sites' to say."""
    for row, stop in case.fresh():
        if stop.kind != "refill":
            continue
        site = case.day.workbook.sites[stop.place_id]
        begin = stop.arrive_min
        if site.open_min is not None and site.open_min > begin:
            begin = site.open_min
        alone = site.trucks_at_once is None
        if alone and differs(stop.begin_min, begin, MINUTE_TOLERANCE):
            yield case.found(
                "CLOCK-BEGIN",
                row,
                f"the refill begins at minute {stop.begin_min:.2f}, may begin at {begin:.2f}",
            )
        gal = sum(fill.gal for fill in stop.fills)
        lasts = site.setup_min + gal / site.fill_gal_per_min
        if differs(stop.leave_min - stop.begin_min, lasts, MINUTE_TOLERANCE):
            yield case.found(
                "CLOCK-LEAVE",
                row,
                f"{gal:.1f} gal at {stop.place_id} take {lasts:.2f} min, the plan says "
                f"{stop.leave_min - stop.begin_min:.2f} min",
            )
        early = site.open_min is not None and exceeds(
            site.open_min, stop.begin_min, MINUTE_TOLERANCE
        )
        late = site.close_min is not None and exceeds(
            stop.leave_min, site.close_min, MINUTE_TOLERANCE
        )
        if early or late:
            yield case.found(
                "SITE-HOURS",
                row,
                f"refills from {clock_text(stop.begin_min)} to {clock_text(stop.leave_min)}; "
                f"{stop.place_id} is open {_hours(site.open_min, site.close_min)}",
            )


def check_lunch(case: TruckCase) -> Iterator[Violation]:
    """Lunch stands between two stops, begins in time and lasts as long as it is."""
    truck, stops = case.truck, case.planned.stops
    rows = [row for row, stop in enumerate(stops) if stop.kind == "lunch"]
    if len(rows) > (1 if truck.lunch_min > 0 else 0):
        yield case.found(
            "LUNCH-EXTRA", rows[-1], f"{len(rows)} lunches, the crew has {truck.lunch_min:.0f} min"
        )
    for row in rows:
        stop = stops[row]
        if stop.done:
            continue
        if (row < 2 and not case.done) or row == len(stops) - 1:
            yield case.found("LUNCH-PLACE", row, "lunch before the first stop or after the last")
        elif stop.place_id != stops[row - 1].place_id:
            yield case.found(
                "LUNCH-PLACE",
                row,
                f"lunch at {stop.place_id}, the truck stands at {stops[row - 1].place_id}",
            )
        begin = stop.arrive_min
        if truck.lunch_earliest_min is not None and truck.lunch_earliest_min > begin:
            begin = truck.lunch_earliest_min
        if differs(stop.begin_min, begin, MINUTE_TOLERANCE):
            yield case.found(
                "CLOCK-BEGIN",
                row,
                f"lunch begins at minute {stop.begin_min:.2f}, should begin at {begin:.2f}",
            )
        if differs(stop.leave_min - stop.begin_min, truck.lunch_min, MINUTE_TOLERANCE):
            yield case.found(
                "CLOCK-LEAVE",
                row,
                f"lunch of {stop.leave_min - stop.begin_min:.2f} min, should be "
                f"{truck.lunch_min:.2f}",
            )
        latest = truck.lunch_latest_min
        if latest is not None and exceeds(stop.begin_min, latest, MINUTE_TOLERANCE):
            yield case.found(
                "LUNCH-TIME",
                row,
                f"lunch begins at {clock_text(stop.begin_min)}, at the latest at "
                f"{clock_text(latest)}",
            )


def check_lunch_is_taken(case: TruckCase) -> Iterator[Violation]:
    """Lunch is owed by a truck that is out past the latest lunch."""
    truck, stops = case.truck, case.planned.stops
    latest = truck.lunch_latest_min
    if not stops or truck.lunch_min <= 0 or latest is None or case.depart_min >= latest:
        return
    if case.done and not any(stop.kind != "return" for _, stop in case.fresh()):
        # Its crew is sent home, or is there: nothing more is planned for it (rule 24).
        return
    if exceeds(stops[-1].arrive_min, latest, MINUTE_TOLERANCE) and not any(
        stop.kind == "lunch" for stop in stops
    ):
        yield case.found(
            "LUNCH-OWED",
            None,
            f"back at {clock_text(stops[-1].arrive_min)}, after {clock_text(latest)}, without "
            f"the lunch of {truck.lunch_min:.0f} min",
        )


def check_return(case: TruckCase) -> Iterator[Violation]:
    """The truck is back by the end of its shift and the overtime allowed."""
    if not case.planned.stops:
        return
    row, stop = len(case.planned.stops) - 1, case.planned.stops[-1]
    if stop.done:
        return
    latest = case.truck.shift_end_min + case.truck.overtime_most_min
    closing = case.truck.washdown_min + case.truck.paperwork_min
    sent_home = row > 0 and case.planned.stops[row - 1].done
    if exceeds(stop.arrive_min, latest - closing, MINUTE_TOLERANCE) and not sent_home:
        yield case.found(
            "RETURN-LATE",
            row,
            f"back at {clock_text(stop.arrive_min)}, at the latest at "
            f"{clock_text(latest - closing)}",
        )
    if differs(stop.begin_min, stop.arrive_min, MINUTE_TOLERANCE) or differs(
        stop.leave_min, stop.arrive_min + closing, MINUTE_TOLERANCE
    ):
        yield case.found(
            "CLOCK-LEAVE",
            row,
            f"back at {clock_text(stop.arrive_min)} and released at {clock_text(stop.leave_min)}; "
            f"wash-down and paperwork take {closing:.0f} min",
        )


def _one_work(
    case: TruckCase, row: int, stop: Stop, number: int, work: Work, ready: float
) -> Iterator[Violation]:
    setup = case.day.workbook.settings.setup_min_per_visit if number == 0 else 0.0
    spray = order_gal(case, work.order_id) / case.truck.line(work.line_id).gun_gal_per_min
    if differs(work.spray_min, spray, MINUTE_TOLERANCE):
        yield case.found(
            "CLOCK-WORK",
            row,
            f"order {work.order_id}: {work.spray_min:.2f} min at the gun, should be {spray:.2f}",
        )
    lasts = work.changeover_min + work.spray_min
    if differs(work.end_min, work.begin_min + lasts, MINUTE_TOLERANCE):
        yield case.found(
            "CLOCK-WORK",
            row,
            f"order {work.order_id} ends at minute {work.end_min:.2f}; it began at "
            f"{work.begin_min:.2f} and takes {lasts:.2f} min",
        )
    if number == 0 and differs(work.begin_min, stop.begin_min + setup, MINUTE_TOLERANCE):
        yield case.found(
            "CLOCK-WORK",
            row,
            f"order {work.order_id} begins at minute {work.begin_min:.2f}; set-up began at "
            f"{stop.begin_min:.2f} and takes {setup:.2f} min",
        )
    start = stop.begin_min if number == 0 else work.begin_min
    right = _earliest(case.windows[work.order_id], ready, setup + lasts)
    if right and all(differs(start, minute, MINUTE_TOLERANCE) for minute in right):
        yield case.found(
            "CLOCK-BEGIN",
            row,
            f"order {work.order_id} begins at minute {start:.2f}; the crew is ready at "
            f"{ready:.2f} and may begin at {right[0]:.2f}",
        )


def _earliest(windows: tuple[Window, ...] | None, ready: float, lasts: float) -> tuple[float, ...]:
    """Earliest minutes to begin: one, or two where it hangs on a hair whether the work still fits
    in the earlier window; none when it fits in no window (that is the window check's to say)."""
    if windows is None:
        return (ready,)
    found: list[float] = []
    for slack in (MINUTE_TOLERANCE, -MINUTE_TOLERANCE):
        fits = [
            max(ready, window.open_min)
            for window in windows
            if max(ready, window.open_min) + lasts <= window.close_min + slack
        ]
        found += [min(fits)] if fits else []
    return tuple(found)


def _hours(open_min: float | None, close_min: float | None) -> str:
    begins = "the start of the day" if open_min is None else clock_text(open_min)
    ends = "the end of the day" if close_min is None else clock_text(close_min)
    return f"from {begins} to {ends}"
