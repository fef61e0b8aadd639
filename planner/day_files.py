"""A planned day -> every file of its folder, as text."""

from __future__ import annotations

from planner.by_hand.sheet import FILE_NAME as STOP_ORDER
from planner.by_hand.sheet import stop_order_sheet
from planner.chain import PlannedDay, background_streets, legs_of
from planner.exports.files import open_files
from planner.papers.packet import packet_pages
from planner.plan.document import to_json
from planner.records.calls import FILE_NAME as CALLS
from planner.records.calls import calls_sheet
from planner.records.sealed import plan_checksum
from planner.records.sheet import FILE_NAME, actuals_sheet
from planner.tables.online import MapTiles


def day_files(planned: PlannedDay, tiles: MapTiles | None = None, mark: str = "") -> dict[str, str]:
    """Every file of a day's folder: plan.json, the actuals sheet to fill in, the stop order to
    change, the packet's pages, the map and the open formats. tiles: an online street map that may
    be switched on behind the map's own. mark: what the sheets say after the word Plan, '' = its
    checksum."""
    text = to_json(planned.plan)
    roads = planned.roads.roads
    legs = legs_of(planned.plan, planned.roads)
    checksum = plan_checksum(text)
    others = open_files(planned.plan, planned.day, legs, roads.credit)
    files = {
        "plan.json": text,
        FILE_NAME: actuals_sheet(planned.plan, planned.day, checksum),
        STOP_ORDER: stop_order_sheet(planned.plan, planned.day),
    }
    call_list = calls_sheet(planned.plan, planned.day)
    if call_list:
        files[CALLS] = call_list
    files.update(
        packet_pages(
            planned.plan,
            planned.day,
            legs,
            map_file="map.html",
            plan_mark=mark or checksum,
            credit=roads.credit,
            other_files=(*files, *others),
            broken=[str(violation) for violation in planned.violations],
        )
    )
    # Imported here: folium takes half a second, and the office's page opens without a map.html.
    from planner.maps.day_map import map_page

    files["map.html"] = map_page(
        planned.plan, planned.day, legs, background_streets(planned, legs), roads.credit, tiles
    )
    files.update(others)
    return files
