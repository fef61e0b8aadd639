"""The papers of a day as HTML texts: day page, a packet per truck, store pick list.

Nothing is written here; the command that asked decides where the pages go.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date

from planner.compliance.thresholds import ADVISER_TEXT
from planner.day.day import Day
from planner.mixing.recipes import recipes
from planner.papers import cautions
from planner.papers.again_sheet import again_sheet, change_lines, marks_of
from planner.papers.container_label import container_labels
from planner.papers.day_page import day_page
from planner.papers.leave_behind import slips
from planner.papers.mix_sheet import mix_sheets
from planner.papers.pick_list import pick_list
from planner.papers.pictures import BAR_WIDTH, CHART_HEIGHT, time_axis
from planner.papers.render import render
from planner.papers.route_sheet import route_sheet
from planner.plan.caught import as_told, with_handed
from planner.plan.model import Plan
from planner.plan.same_lawn import crew_notes
from planner.roads.travel import Leg

INDEX = "index.html"
PICK_LIST = "pick-list.html"
ALL_PACKETS = "packets.html"
LEAVE_BEHIND = "leave-behind.html"


def packet_pages(
    plan: Plan,
    day: Day,
    legs: Mapping[tuple[str, int], Leg],
    map_file: str,
    plan_mark: str,
    credit: str = "",
    other_files: Sequence[str] = (),
    broken: Sequence[str] = (),
) -> dict[str, str]:
    """File name -> HTML of every paper of the day.

    legs: the way driven to each stop, keyed by truck and stop number. map_file: where the map
    stands, relative to the pages; '' = no map. plan_mark: first ten hex digits of the SHA-256 of
    the plan's JSON text and the number of its print, on every page, so that a sheet of another plan
    or print is recognized.
    credit: the notice that the source of the roads asks for. other_files: named on the day page.
    broken: the rules that the plan breaks, in words; every sheet warns of them, the day page lists
    them.
    Raises KeyError when the plan names a truck or mix that the day does not have.
    """
    day = replace(day, workbook=with_handed(plan, day.workbook))
    # The store hands out what the plan mixes, whether containers are sprayed or not.
    to_pick, plan = plan, as_told(plan, day.workbook)
    kitchen = recipes(day.workbook)
    names = truck_files(truck_plan.truck_id for truck_plan in plan.trucks)
    out = [row for row in plan.trucks if row.stops or plan.again]
    common: dict[str, object] = {
        "plan": plan,
        "settings": day.workbook.settings,
        "when": date_text(day.date),
        "checksum": plan_mark,
        "cautions": cautions,
        "map_file": map_file,
        "credit": credit,
        "other_files": other_files,
        "broken": broken,
        "adviser_text": ADVISER_TEXT,
        "index_file": INDEX,
        "pick_file": PICK_LIST,
        "slips_file": LEAVE_BEHIND if day.workbook.settings.leave_behind else "",
        "all_file": ALL_PACKETS if out else "",
        "truck_files": names,
        "truck_titles": {key: row.title for key, row in day.workbook.trucks.items()},
    }
    axis = time_axis(plan)
    changed, lawns = change_lines(plan, day), crew_notes(plan, day)
    pages = {
        INDEX: render(
            "day.html",
            **common,
            page=day_page(plan, day, axis, changed),
            axis=axis,
            bar_width=BAR_WIDTH,
            chart_height=CHART_HEIGHT,
        ),
        PICK_LIST: render("pick_list.html", **common, lines=pick_list(to_pick, day)),
    }
    if day.workbook.settings.leave_behind:
        pages[LEAVE_BEHIND] = render(
            "leave_behind.html", **common, slips=slips(plan, day), trucks=day.workbook.trucks
        )
    common["marks"] = marks_of(changed)
    packets: list[dict[str, object]] = [
        {
            "truck": day.workbook.trucks[truck_plan.truck_id],
            "truck_plan": truck_plan,
            "sheets": mix_sheets(truck_plan, day, kitchen),
            "route": route_sheet(truck_plan, day, legs, lawns, plan.again),
            "labels": container_labels(truck_plan, day),
            "again": again_sheet(plan, truck_plan, day, changed),
        }
        for truck_plan in plan.trucks
    ]
    for truck_plan, packet in zip(plan.trucks, packets, strict=True):
        pages[names[truck_plan.truck_id]] = render("truck.html", **common, **packet)
    if out:
        shown = [packet for packet in packets if packet["truck_plan"] in out]
        pages[ALL_PACKETS] = render("packets.html", **common, packets=shown)
    return pages


def truck_files(truck_ids: Iterable[str]) -> dict[str, str]:
    """Truck id -> file name of its packet; ids that no file system likes are made plain, and two
    ids that then look alike are numbered."""
    names: dict[str, str] = {}
    taken: set[str] = set()
    for truck_id in truck_ids:
        plain = re.sub(r"[^A-Za-z0-9_-]+", "-", truck_id).strip("-") or "truck"
        name, number = plain, 2
        while name.lower() in taken:
            name, number = f"{plain}-{number}", number + 1
        taken.add(name.lower())
        names[truck_id] = f"truck-{name}.html"
    return names


def date_text(when: date) -> str:
    """A date as people of the trade say it, whatever the machine's language."""
    days = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
    early = ("January", "February", "March", "April", "May", "June")
    late = ("July", "August", "September", "October", "November", "December")
    return f"{days[when.weekday()]}, {(early + late)[when.month - 1]} {when.day}, {when.year}"
