"""The map's key: trucks, signs, and a switch per mix."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from urllib.parse import quote

from planner.day.clock import clock_text
from planner.day.day import Day
from planner.maps.escape import html_text
from planner.maps.look import Look
from planner.papers.lookup import mix_name
from planner.plan.model import TruckPlan


def legend_html(
    looks: Sequence[tuple[str, Look, TruckPlan]],
    mixes: Mapping[str, int],
    day: Day,
    held: bool,
    unserved: bool,
) -> str:
    """The key as HTML of escaped text. looks: title, look and plan of each truck that goes out."""
    rows = []
    for number, (title, look, truck_plan) in enumerate(looks):
        totals = truck_plan.totals
        back = clock_text(truck_plan.stops[-1].arrive_min)
        rows.append(
            f'<div data-truck="{number}">{_line(look)}'
            f'<span class="stop" style="background:{look.color}">'
            f'{look.letter}</span><span><a href="#{quote(truck_plan.truck_id)}">{html_text(title)}'
            f"</a>: {totals.visits} stops, {totals.gal:.0f} gal, {totals.drive_miles:.0f} mi, "
            f"back {back}</span></div>"
        )
    rows.append('<div class="only">A name shows that truck alone. <a href="#">All trucks</a></div>')
    rows.append('<div><span class="stop" style="background:#444">A7</span> stop 7 of truck A</div>')
    rows.append(
        '<div><span class="stop dot" data-letter="A" style="background:#444">A7</span> '
        "stop of truck A; come nearer for its number</div>"
    )
    rows.append('<div><span class="refill">A8 +90 gal</span> refill stop</div>')
    rows.append('<div><span class="site">YARD</span> yard or water point</div>')
    if any(stop.done for _, _, truck_plan in looks for stop in truck_plan.stops):
        rows.append("<div>faint way: driven before the day was planned again</div>")
    if held:
        rows.append('<div><span class="off">H</span> order held by a rule</div>')
    if unserved:
        rows.append('<div><span class="off">U</span> order that did not fit the day</div>')
    switches = "".join(
        f'<label><input type="checkbox" checked data-mix="{number}"> '
        f"{html_text(mix_name(day, mix_id))}</label><br>"
        for mix_id, number in mixes.items()
    )
    if switches:
        rows.append(f"<fieldset><legend>Show stops with</legend>{switches}</fieldset>")
    return f"<details open><summary>Key</summary>{''.join(rows)}</details>"


def _line(look: Look) -> str:
    dash = f' stroke-dasharray="{look.dash}"' if look.dash else ""
    return (
        '<svg width="44" height="8" aria-hidden="true"><path d="M0 4H44" '
        f'stroke="{look.color}" stroke-width="4"{dash}/></svg>'
    )
