"""What rules, ground, sun, wind and hoses say of the stops of one truck, for its route sheet."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date as Date
from datetime import datetime, time, timedelta

from planner.compliance.duties import WHEN_TEXT, duties
from planner.compliance.ground import ground_cautions
from planner.compliance.registry import TOLD_BY, Visit, attempts_at, calls_at, moment_text
from planner.compliance.weather import Forecast
from planner.day.day import Day
from planner.day.fleet import Line
from planner.day.products import Scope
from planner.mixing.separation import separation
from planner.papers.cautions import RINSE_WATER
from planner.papers.container_label import containers_tonight
from planner.papers.lookup import mix_name, on_board, place_text, works
from planner.papers.numbers import stop_numbers
from planner.papers.render import gal_text
from planner.plan.caught import rinsed_lines
from planner.plan.model import Stop, TruckPlan


@dataclass(frozen=True)
class DutyLine:
    """What a state's rule asks for around the orders of some stops. kind: sign, notice,
    information, caution or gap (rules that are not in the tables);
    text: with its section; stops: their numbers, as text."""

    kind: str
    text: str
    stops: str


@dataclass(frozen=True)
class TellLine:
    """One registered person to be told of a stop. when: by when, in words; said: what is logged of
    it as far as is known."""

    person: str
    phone: str
    when: str
    said: str


def tell_lines(truck_id: str, stop: Stop, day: Day) -> tuple[TellLine, ...]:
    """Whom a stop that is not done owes a call, the most urgent first: for the crew alone."""
    if stop.kind != "visit" or stop.done:
        return ()
    address = place_text(day, stop.place_id).address
    lines = []
    for call in calls_at(day, visit_of(truck_id, stop, day.date)):
        tried = attempts_at(day.called, call.person.name, address)
        texts = ", ".join(one.text for one in tried)
        told = any(one.outcome in TOLD_BY for one in tried)
        said = texts if told else f"NOT REACHED yet: {texts}" if texts else "no call is logged yet"
        first = f", not before {moment_text(call.earliest)}" if call.earliest else ""
        when = f"by {moment_text(call.due)}{first}"
        lines.append(TellLine(call.person.name, call.person.phone, when, said))
    return tuple(lines)


def visit_of(truck_id: str, stop: Stop, date: Date) -> Visit:
    """A planned visit as people near it may have to be told of it."""
    begin = datetime.combine(date, time()) + timedelta(minutes=int(stop.begin_min))
    orders = tuple(work.order_id for work in stop.orders)
    return Visit(truck_id, stop.seq, stop.place_id, begin, orders)


def owed_duties(truck_plan: TruckPlan, day: Day) -> tuple[tuple[DutyLine, ...], dict[int, str]]:
    """The state's duties with the stops that owe them, and by stop that owes a sign its time, a key
    of WHEN_TEXT."""
    stops_of: dict[tuple[str, str], list[int]] = {}
    signs: dict[int, str] = {}
    soonest = list(WHEN_TEXT)
    for stop in truck_plan.stops:
        for work in stop.orders:
            order = day.workbook.orders.get(work.order_id)
            for duty in duties(day, order) if order is not None else ():
                # A sign that hangs on a condition is told in the list, not demanded at the stop.
                if duty.kind == "sign" and "; only if " not in duty.text:
                    known = signs.get(stop.seq, duty.when)
                    signs[stop.seq] = min(known, duty.when, key=soonest.index)
                if duty.kind == "gap" or (duty.section and duty.kind != "re-entry"):
                    stops_of.setdefault((duty.kind, duty.line), []).append(stop.seq)
    visits = {stop.seq for stop in truck_plan.stops if stop.kind == "visit"}
    lines = tuple(
        DutyLine(kind, text, stops_text(at, visits)) for (kind, text), at in stops_of.items()
    )
    return lines, signs


def stops_text(at: list[int], visits: set[int]) -> str:
    """Numbers of stops as text; visits: of all lawns of the truck."""
    word = "stops" if len(set(at)) > 1 else "stop"
    return "every stop" if visits <= set(at) else f"{word} {stop_numbers(at)}"


def stop_cautions(
    truck_plan: TruckPlan, day: Day, weather: Forecast
) -> tuple[dict[str, list[int]], dict[str, tuple[str, ...]]]:
    """Cautions with their stops where several share one, and by order those of its stop alone."""
    said = {
        (stop.seq, work.order_id): ground_cautions(
            day, day.workbook.orders[work.order_id], work.begin_min, work.end_min, weather
        )
        for stop in truck_plan.stops
        for work in stop.orders
        if work.order_id in day.workbook.orders
    }
    stops_of: dict[str, list[int]] = {}
    for (seq, _), text in ((key, text) for key, texts in said.items() for text in texts):
        if seq not in stops_of.setdefault(text, []):
            stops_of[text].append(seq)
    shared = {text: at for text, at in stops_of.items() if len(at) > 1}
    own: dict[str, tuple[str, ...]] = {}
    heard: set[tuple[int, str]] = set()
    for (seq, name), texts in said.items():
        # A stop hears it once, however many orders it has.
        own[name] = tuple(t for t in texts if t not in shared and (seq, t) not in heard)
        heard |= {(seq, text) for text in texts}
    return shared, own


def hoses_apart(truck_plan: TruckPlan, day: Day) -> Iterator[str]:
    """Hoses that hold what must not be on one truck with a mix of the day (rule 9)."""
    apart = separation(day.workbook)
    loaded = dict.fromkeys(on_board(truck_plan).values())
    for line in day.workbook.trucks[truck_plan.truck_id].lines:
        held = line.hose_mix
        if held is None or any(stop.done for stop in truck_plan.stops):
            continue
        for mix_id in loaded:
            if apart.apart_by(held, mix_id, Scope.TRUCK):
                yield (
                    f"The hose of line {line.line_id} holds {mix_name(day, held)}, which must not "
                    f"be on one truck with {mix_name(day, mix_id)}: empty and rinse it"
                )


def rinse_text(day: Day, line: Line) -> str:
    """What becomes of the mix in a hose through which a compartment is rinsed, '' = it is empty."""
    if line.hose_mix is None:
        return ""
    return (
        f"before the rinse, run the {gal_text(line.hose_gal)} gal of "
        f"{mix_name(day, line.hose_mix)} in the hose of line {line.line_id} into a marked service "
        "container."
    )


def rinses(truck_plan: TruckPlan, day: Day) -> Iterator[str]:
    """A sentence for each hose that a rinse leaves full of rinse water in the morning."""
    truck = day.workbook.trucks[truck_plan.truck_id]
    for line in truck.lines:
        if line.line_id not in rinsed_lines(truck_plan, truck):
            continue
        used = next((work for _, work in works(truck_plan) if work.line_id == line.line_id), None)
        then = f"line {line.line_id} holds rinse water"
        if used is not None:
            mix, gal = mix_name(day, used.mix_id), gal_text(line.hose_gal)
            then += f": run {gal} gal of {mix} through before leaving, until {RINSE_WATER}"
        before = rinse_text(day, line)
        text = f"{before} After it, {then}" if before else then
        yield text[:1].upper() + text[1:] + ("" if used else ".")


def hoses_tonight(truck_plan: TruckPlan, day: Day) -> str:
    """What hoses and service containers hold after the last lawn, '' where all are empty."""
    truck = day.workbook.trucks[truck_plan.truck_id]
    held = truck.hose_mix | dict.fromkeys(rinsed_lines(truck_plan, truck))
    held |= {work.line_id: work.mix_id for _, work in works(truck_plan)}
    texts = [
        f"{line.line_id} holds {gal_text(line.hose_gal)} gal of {mix_name(day, mix_id)}"
        for line in truck.lines
        if (mix_id := held[line.line_id])
    ]
    said = [f"Hoses tonight: {'; '.join(texts)}."] if texts else []
    return " ".join(filter(None, (*said, containers_tonight(truck_plan, day))))
