"""One truck's day as one HTML text that needs nothing else: no request, no other file."""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from importlib import resources
from typing import Any, Final

from planner.day.day import Day
from planner.mixing.recipes import recipes
from planner.papers import cautions
from planner.papers.again_sheet import again_sheet, change_lines, marks_of
from planner.papers.lookup import mix_name, on_board
from planner.papers.mix_sheet import mix_sheets
from planner.papers.packet import date_text
from planner.papers.render import render
from planner.papers.route_sheet import route_sheet
from planner.phone.leg_map import Backdrop
from planner.phone.screens import gear, rows_to_write, stop_screens
from planner.plan.model import Plan
from planner.records.day_log import truck_days
from planner.records.sheet import COLUMNS, WIND_FROM, plan_mark
from planner.roads.travel import Leg, RoadStretch

SCRIPTS: Final = ("keep.js", "fields.js", "show.js", "mix.js", "day.js", "send.js", "begin.js")
"""In the order in which the page runs them, as one module."""


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
    """Truck id -> HTML of its page, for trucks that have something to do.

    legs: the way driven to each stop; streets: drawn around it; checksum: of the plan's text; mark:
    what sheets say after the word Plan; only: one truck;
    sent_to: relative address that takes what the crew writes, '' = the page came as a file.
    Raises KeyError for a truck or mix that the day does not have.
    """
    book, backdrop, kitchen = day.workbook, Backdrop(streets), recipes(day.workbook)
    changed = change_lines(plan, day)
    steps_of = {row.truck_id: row.steps for row in truck_days(plan, checksum, book, book)}
    pages = {}
    for truck_plan in plan.trucks:
        name = truck_plan.truck_id
        if not truck_plan.stops or name not in steps_of or only not in ("", name):
            continue
        truck, route = book.trucks[name], route_sheet(truck_plan, day, legs)
        sheets = mix_sheets(truck_plan, day, kitchen)
        screens = stop_screens(truck_plan, day, route, sheets, kitchen, legs, backdrop)
        data = {
            "name": f"{plan.date} {name} {book.settings.company}",
            "date": plan.date,
            "truck": name,
            "plan": checksum,
            "planMark": plan_mark(checksum),
            "sentTo": sent_to,
            "applicator": truck.applicator,
            "license": truck.license,
            "rows": rows_to_write(steps_of[name], truck, day),
            "stops": [_stop(screen.row.stop.seq, screen) for screen in screens],
            "bounds": {key: [row.least, row.most] for key, row in COLUMNS.items()},
            "windFrom": WIND_FROM.split("|"),
            "columns": list(COLUMNS),
        }
        pages[name] = render(
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
            screens=screens,
            again=again_sheet(plan, truck_plan, day, changed),
            marks=marks_of(changed),
            gear=gear(day, on_board(truck_plan).values()),
            mix_names={at: mix_name(day, mix) for at, mix in truck_plan.loading.items() if mix},
            policy=content_policy(),
            script=_script(),
            style=_style(),
            data=_inert(data),
        )
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
