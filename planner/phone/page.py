"""One truck's day as one HTML text that needs nothing else: no request, no other file. Its
screens are the packet's own rows, sheets and words, cut into stops and steps of a fill."""

import base64
import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib import resources
from typing import Any, Final

import segno

from planner.compliance.duties import WHEN_TEXT
from planner.compliance.registry import attempts_at
from planner.compliance.weather import weather_limits
from planner.day.day import Day
from planner.day.fleet import Truck
from planner.mixing.recipes import Recipe, recipes
from planner.papers import cautions
from planner.papers.again_sheet import again_sheet, change_lines, marks_of
from planner.papers.container_label import container_labels
from planner.papers.fill_steps import FillStep, first_water_gal, rough_gal
from planner.papers.label_facts import LabelFacts, label_facts
from planner.papers.lookup import mix_name, on_board, place_text
from planner.papers.mix_sheet import FillEntry, MixSheet, mix_sheets
from planner.papers.packet import date_text
from planner.papers.render import gal_text, render
from planner.papers.route_sheet import MixLine, RouteRow, RouteSheet, route_sheet
from planner.phone.leg_map import MOST_SIGNS, Backdrop, LegMap, leg_map
from planner.plan.caught import as_told, with_handed
from planner.plan.model import Fill, Plan, TruckPlan
from planner.plan.same_lawn import crew_notes
from planner.records.day_log import Step, truck_days
from planner.records.needed import needed_columns
from planner.records.sheet import COLUMNS, FILL, LEFT, SPRAY, WIND_FROM, plan_mark
from planner.records.ticks import row_key
from planner.records.told import calls_about
from planner.roads.travel import Leg, Maneuver, RoadStretch


def qr_svg(address: str, scale: int = 5) -> str:
    """The address as an inline SVG, black on white with the quiet zone of ISO/IEC 18004 around."""
    code = segno.make(address, error="m", micro=False)
    return str(code.svg_inline(scale=scale, border=4, light="#fff"))


@dataclass(frozen=True)
class LevelStep:
    """A step of a fill. low, high: between which gallons the level reads before it, as text, ''
    before the first water; after_gal: the highest level that it leads to, for the drawing."""

    step: FillStep
    low: str
    high: str
    after_gal: float


@dataclass(frozen=True)
class FillScreen:
    """One fill of one compartment. row: its key in what is written."""

    row: str
    sheet: MixSheet
    entry: FillEntry
    steps: tuple[LevelStep, ...]
    gear: LabelFacts


@dataclass(frozen=True)
class StopScreen:
    """One stop. rows: keys of what is written there; map: of the way there, None = there is none;
    turns: of that way, () = not known; sign: when a sign is
    placed, '' = none; limits: of its mixes."""

    row: RouteRow
    rows: tuple[str, ...]
    fills: tuple[FillScreen, ...]
    gear: LabelFacts
    map: LegMap | None
    turns: tuple[Maneuver, ...]
    sign: str
    limits: tuple[MixLine, ...]


def carried_mixes(truck_plan: TruckPlan, route: RouteSheet) -> list[str]:
    """Every mix that the crew may touch in the day."""
    cleaned = (entry.last_mix for entry, *_ in route.cleaning)
    return [*on_board(truck_plan).values(), *cleaned, *(one.mix_id for one in route.also)]


def stop_screens(
    truck_plan: TruckPlan,
    day: Day,
    route: RouteSheet,
    sheets: Sequence[MixSheet],
    kitchen: Mapping[str, Recipe],
    legs: Mapping[tuple[str, int], Leg],
    backdrop: Backdrop,
    most_signs: int,
) -> tuple[StopScreen, ...]:
    """A screen per stop of the truck, in driving order. most_signs: of path text behind the ways of
    all of them."""
    all_day = carried_mixes(truck_plan, route)
    screens = []
    for row in route.rows:
        stop, key = row.stop, (truck_plan.truck_id, row.stop.seq)
        mixes = [work.mix_id for work in stop.orders] or all_day
        # A hose is emptied of them at the stop.
        handled = [*mixes, *(work.displaced_mix_id for work in stop.orders)]
        leg, drawn = legs.get(key), None
        if leg is not None and len(leg.points) > 1:
            drawn = leg_map(leg, backdrop, most_signs / len(route.rows))
        screens.append(
            StopScreen(
                row=row,
                rows=(
                    *(row_key(FILL, stop.seq, "", fill.compartment_id) for fill in stop.fills),
                    *(row_key(SPRAY, stop.seq, work.order_id, "") for work in stop.orders),
                ),
                fills=tuple(
                    _fill_screen(fill, stop.seq, sheets, day, kitchen[fill.mix_id])
                    for fill in stop.fills
                    if not stop.done
                ),
                gear=label_facts(day, filter(None, handled)),
                map=drawn,
                turns=leg.maneuvers if leg is not None else (),
                sign=WHEN_TEXT.get(
                    route.signs.get(stop.seq, "at" if row.at and row.at.sign else ""), ""
                ),
                limits=tuple(line for line in route.mixes if stop.orders and line.mix_id in mixes),
            )
        )
    return tuple(screens)


def _fill_screen(
    fill: Fill, seq: int, sheets: Sequence[MixSheet], day: Day, recipe: Recipe
) -> FillScreen:
    sheet, entry = next(
        (sheet, entry)
        for sheet in sheets
        for entry in sheet.fills
        if sheet.compartment.compartment_id == fill.compartment_id and entry.stop.seq == seq
    )
    key = row_key(FILL, seq, "", fill.compartment_id)
    steps = tuple(_level_steps(entry, day, recipe))
    rinsed = sheet.cleaning.last_mix if sheet.cleaning and entry.number == 1 else fill.mix_id
    return FillScreen(key, sheet, entry, steps, label_facts(day, (fill.mix_id, rinsed)))


def _level_steps(entry: FillEntry, day: Day, recipe: Recipe) -> Iterable[LevelStep]:
    """The level before a step lies between the first water's bounds and what liquid products have
    added to them since; dry products count for nothing, as everywhere in the planner."""
    fill = entry.fill
    low_gal, high_gal = (fill.level_before_gal + water for water in first_water_gal(fill))
    names = {day.workbook.products[part.product_id].name: part for part in recipe.parts}
    waters, low, high = 0, "", ""
    for step in entry.steps:
        before = low, high
        added = names[step.product].liquid_gal_per_gal * fill.gal if step.product else 0.0
        low_gal, high_gal = low_gal + added, high_gal + added
        waters += bool(step.measure and not step.product)
        if waters > 1:
            low = high = gal_text(fill.level_after_gal)
        elif waters:
            low, high = rough_gal(low_gal), rough_gal(high_gal)
        after_gal = (fill.level_before_gal, high_gal, fill.level_after_gal)[min(waters, 2)]
        yield LevelStep(step, *before, min(after_gal, fill.level_after_gal))


def rows_to_write(
    steps: Iterable[Step], truck: Truck, day: Day, held: Mapping[str, str]
) -> list[dict[str, object]]:
    """Everything that the crew writes, as plain JSON: key, what it is, what was planned, which
    columns its record needs, what the compartment holds, and where the labels' weather limits lie.
    held: compartments that hold something at some time of the day; nobody reads the others."""
    tanks = {row.compartment_id: row for row in truck.compartments}
    rows: list[dict[str, object]] = []
    for step in steps:
        if step.what == LEFT and step.compartment_id not in held:
            continue
        tank = tanks.get(step.compartment_id)
        limits = weather_limits(day.workbook, step.mix_id) if step.what == SPRAY else None
        row: dict[str, object] = {
            "key": row_key(step.what, step.stop, step.order_id, step.compartment_id),
            "what": step.what,
            "stop": step.stop,
            "order": step.order_id,
            "compartment": step.compartment_id,
            "mix": step.mix_id,
            "position": tank and tank.position,
            "full": tank and tank.capacity_gal,
            "title": place_text(day, step.place_id).title if step.order_id else "",
            "gal": round(step.gal, 2),
            "needs": [*needed_columns(step, day.workbook), *_untold(step, day)],
        }
        if limits is not None:
            row["wind"] = [limits.wind_least_mph, limits.wind_most_mph]
            row["windBy"] = "" if limits.wind_from else "the office's"
            row["heat"] = [limits.temperature_least_f, limits.temperature_most_f]
        rows.append({name: value for name, value in row.items() if value not in (None, "")})
    return rows


def _untold(step: Step, day: Day) -> list[str]:
    """The column that says whether registered people were told, where one's call is not logged."""
    if step.what != SPRAY:
        return []
    date, address = day.date.isoformat(), place_text(day, step.place_id).address
    owed = calls_about(day.workbook, date, step.order_id, step.place_id, step.start_min)
    logged = all(attempts_at(day.called, call.person.name, address) for call in owed)
    return [] if logged else ["neighbors"]


SCRIPTS: Final = ("keep.js", "fields.js", "show.js", "mix.js", "day.js", "send.js", "begin.js")
"""In the order in which the page runs them, as one module."""
MOST_BYTES: Final = 200_000
"""A page for a phone far from everywhere. A longer day has fewer streets behind its ways."""


@cache
def _script() -> str:
    folder = resources.files("planner.phone")
    texts = [folder.joinpath(name).read_text(encoding="utf-8") for name in SCRIPTS]
    lines = [line.strip() for text in texts for line in text.splitlines()]
    return "\n".join(line for line in lines if line and not line.startswith("//"))


@cache
def _style() -> str:
    return resources.files("planner.phone").joinpath("phone.css").read_text(encoding="utf-8")


@cache
def content_policy() -> str:
    """The Content-Security-Policy of every page: its own script and style by their SHA-256, answers
    to the place it came from, nothing else (https://www.w3.org/TR/CSP3/)."""
    script, style = inline_hash(_script()), inline_hash(_style())
    return (
        f"default-src 'none'; script-src {script}; style-src {style}; "
        "connect-src 'self'; img-src data:; base-uri 'none'; form-action 'none'"
    )


def inline_hash(text: str) -> str:
    """How a content policy names an inline style or script."""
    digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
    return f"'sha256-{digest}'"


def phone_pages(
    plan: Plan,
    day: Day,
    legs: Mapping[tuple[str, int], Leg],
    streets: Iterable[RoadStretch],
    checksum: str,
    *,
    mark: str = "",
    credit: str = "",
    broken: Sequence[str] = (),
    only: str = "",
    sent_to: str = "",
) -> dict[str, str]:
    """Truck id -> HTML of its page, for trucks that have something to do: MOST_BYTES at most, but
    for days of so many stops that they need more without a street behind their ways.

    legs: the way driven to each stop; streets: drawn around it; checksum: of the plan's text; mark:
    what sheets say after the word Plan; only: one truck;
    sent_to: relative address that takes what the crew writes, '' = the page came as a file.
    Raises KeyError for a truck or mix that the day does not have.
    """
    day = replace(day, workbook=with_handed(plan, day.workbook))
    book, backdrop, kitchen = day.workbook, Backdrop(streets), recipes(day.workbook)
    plan = as_told(plan, book)
    changed, lawns = change_lines(plan, day), crew_notes(plan, day)
    steps_of = {row.truck_id: row.steps for row in truck_days(plan, checksum, book, book)}
    pages = {}
    for truck_plan in plan.trucks:
        name = truck_plan.truck_id
        if not truck_plan.stops or name not in steps_of or only not in ("", name):
            continue
        truck = book.trucks[name]
        route = route_sheet(truck_plan, day, legs, lawns, plan.again)
        sheets = mix_sheets(truck_plan, day, kitchen)
        held = on_board(truck_plan)
        signs, over = MOST_SIGNS, 1
        while over > 0:
            screens = stop_screens(truck_plan, day, route, sheets, kitchen, legs, backdrop, signs)
            data = {
                "name": f"{plan.date} {name} {book.settings.company}",
                "date": plan.date,
                "truck": name,
                "plan": checksum,
                "planMark": plan_mark(checksum),
                "sentTo": sent_to,
                "applicator": truck.applicator,
                "license": truck.license,
                "rows": rows_to_write(steps_of[name], truck, day, held),
                "stops": [_stop(screen.row.stop.seq, screen) for screen in screens],
                "bounds": {key: [row.least, row.most] for key, row in COLUMNS.items()},
                "windFrom": WIND_FROM.split("|"),
                "columns": list(COLUMNS),
            }
            text = render(
                "phone.html",
                plan=plan,
                truck=truck,
                truck_plan=truck_plan,
                title=truck.title,
                when=date_text(day.date),
                settings=book.settings,
                mark=mark or checksum,
                credit=credit,
                broken=broken,
                cautions=cautions,
                route=route,
                sheets=sheets,
                labels=container_labels(truck_plan, day),
                screens=screens,
                again=again_sheet(plan, truck_plan, day, changed),
                marks=marks_of(changed),
                gear=label_facts(day, carried_mixes(truck_plan, route)),
                held=held,
                mix_names={at: mix_name(day, mix) for at, mix in held.items()},
                policy=content_policy(),
                script=_script(),
                style=_style(),
                data=_inert(data),
            )
            drawn = sum(screen.map.background_signs for screen in screens if screen.map)
            over = min(drawn, len(text.encode()) - MOST_BYTES)
            signs = drawn - over
        pages[name] = text
    return pages


def _stop(seq: int, screen: Any) -> dict[str, object]:
    stop = screen.row.stop
    return {
        "seq": seq,
        "kind": stop.kind,
        "rows": screen.rows,
        "done": stop.done,
        "begin": round(stop.begin_min, 1),
    }


def _inert(data: object) -> str:
    """JSON that no HTML parser takes for the end of its element."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")
