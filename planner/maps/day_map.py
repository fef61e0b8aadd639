"""The map of a planned day as one HTML page; the only module that imports folium.

The page opens with no network: Leaflet's files and the streets travel inside it. folium builds
the map, its layers and the layer switch; large data and every customer text are added to the
finished page as JSON, because folium's elements are read as templates a second time and would
run what looks like a template in a customer's name.
"""

import base64
import re
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.resources import files
from typing import cast
from urllib.parse import quote

import folium
from folium.utilities import JsCode

from planner.day.clock import clock_text
from planner.day.day import Day
from planner.maps.background import background
from planner.maps.look import Look, html_text, look, script_json
from planner.maps.markers import Marker, mix_numbers, not_done_markers, site_markers, truck_markers
from planner.papers.lookup import mix_name
from planner.plan.model import Plan, TruckPlan
from planner.roads.travel import Leg, RoadStretch
from planner.tables.office import MapTiles


@cache
def leaflet_css() -> str:
    """Leaflet's style sheet with its pictures inside."""
    folder = files("js_lib_leaflet") / "static" / "js_lib_leaflet"

    def inside(match: re.Match[str]) -> str:
        picture = base64.b64encode((folder / match.group(1)).read_bytes()).decode("ascii")
        return f"url(data:image/png;base64,{picture})"

    text = (folder / "leaflet.css").read_text(encoding="utf-8")
    return re.sub(r"url\((images/[\w.-]+\.png)\)", inside, text)


@cache
def leaflet_js() -> str:
    """Leaflet's program, without the pointer to its source map (a request in developer tools)."""
    folder = files("js_lib_leaflet") / "static" / "js_lib_leaflet"
    text = (folder / "leaflet.js").read_text(encoding="utf-8")
    return re.sub(r"//# sourceMappingURL=\S+\s*$", "", text)


def page_file(name: str) -> str:
    """A style sheet or script that lies beside this module."""
    return (files("planner.maps") / name).read_text(encoding="utf-8")


def legend_html(
    looks: Sequence[tuple[str, Look, TruckPlan]],
    mixes: Mapping[str, int],
    day: Day,
    held: bool,
    unserved: bool,
) -> str:
    """The key as HTML of escaped text. looks: title, look and plan of each truck that goes out."""
    rows = []
    for number, (title, style, truck_plan) in enumerate(looks):
        totals = truck_plan.totals
        back = clock_text(truck_plan.stops[-1].arrive_min)
        rows.append(
            f'<div data-truck="{number}">{_line(style)}'
            f'<span class="stop" style="background:{style.color}">'
            f'{style.letter}</span><span><a href="#{quote(truck_plan.truck_id)}">{html_text(title)}'
            f"</a>: {totals.visits} stops, {totals.gal:.0f} gal, {totals.drive_miles:.0f} mi, "
            f"back {back}</span></div>"
        )
    rows.append('<div class="only">A name shows that truck alone. <a href="#">All trucks</a></div>')
    rows.append('<div><span class="stop" style="background:#444">A7</span> stop 7 of truck A</div>')
    rows.append(
        '<div><span class="stop dot" data-letter="A" style="background:#444">A7</span> '
        "stop of truck A; come nearer for its number</div>"
    )
    rows.append(
        '<div><span class="stop dot speck" style="background:#444"></span> '
        "stop among others; come nearer for its truck</div>"
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


STREETS_LAYER = "Streets and water"

DONE_OPACITY = 0.35
"""Of ways that were driven before the day was planned again."""
COORDINATE_DECIMALS = 5
"""About 3.6 ft."""


def map_page(
    plan: Plan,
    day: Day,
    legs: Mapping[tuple[str, int], Leg],
    streets: Sequence[RoadStretch],
    credit: str = "",
    tiles: MapTiles | None = None,
) -> str:
    """The map: a layer per truck with its way and stops, yards and water points, held and
    unserved orders, streets behind. legs: keyed by truck and stop number. credit: the notice that
    the source of the roads asks for. tiles: an online street map, switched off when the page opens;
    without it the page cannot ask the network for anything. The same plan gives the same text."""
    page = _Page(_bounds(plan, day, legs))
    mixes = mix_numbers(plan)
    page.layer(STREETS_LAYER)
    page.markers(page.layer("Yards and water points"), site_markers(day))
    looks: list[tuple[str, Look, TruckPlan]] = []
    for number, truck_plan in enumerate(plan.trucks):
        if not any(stop.kind == "visit" for stop in truck_plan.stops):
            continue
        truck = day.workbook.trucks[truck_plan.truck_id]
        title = truck.title
        drawn = look(number)
        looks.append((title, drawn, truck_plan))
        layer = page.layer(f"{drawn.letter}: {title}")
        page.trucks.append((truck_plan.truck_id, title, drawn, layer))
        _draw_way(layer, truck_plan, legs, drawn)
        page.markers(layer, truck_markers(truck_plan, day, legs, drawn, title, mixes))
    for word, entries in (("Held", plan.held), ("Unserved", plan.unserved)):
        if entries:
            layer = page.layer(f"{word} orders ({len(entries)})")
            page.markers(layer, not_done_markers(entries, day, word))
    page.boxes = {
        "legend": legend_html(looks, mixes, day, bool(plan.held), bool(plan.unserved)),
        "warning": html_text(plan.roads_warning),
        "credit": html_text(_credit(plan, credit)),
    }
    page.tiles = tiles
    title = f"{day.workbook.settings.company}: map of {plan.date}"
    return page.text(title, streets)


def _credit(plan: Plan, credit: str) -> str:
    """Where the streets come from, without the checksum that the day page shows."""
    source = re.sub(r" \(sha256 [0-9a-f]+\)", "", plan.roads)
    return f"{source}. {credit}" if credit else source


def _draw_way(
    layer: folium.FeatureGroup,
    truck_plan: TruckPlan,
    legs: Mapping[tuple[str, int], Leg],
    drawn: Look,
) -> None:
    """The truck's way on a white edge, so that crossing ways stay apart; each truck's a little
    beside the road, so that ways on one road do not hide each other. What is done is faint."""
    for done in (True, False):
        ways = [
            [
                (round(lat, COORDINATE_DECIMALS), round(lon, COORDINATE_DECIMALS))
                for lat, lon in points
            ]
            for stop in truck_plan.stops
            if stop.done is done
            and (leg := legs.get((truck_plan.truck_id, stop.seq))) is not None
            and len(points := leg.points) > 1
        ]
        if ways:
            _draw_lines(layer, ways, drawn, DONE_OPACITY if done else 1.0)


def _draw_lines(
    layer: folium.FeatureGroup, ways: list[list[tuple[float, float]]], drawn: Look, opacity: float
) -> None:
    for color, weight, dash in (("#ffffff", 7, ""), (drawn.color, 4, drawn.dash)):
        line = folium.PolyLine(  # type: ignore[no-untyped-call]
            ways,
            color=color,
            weight=weight,
            opacity=opacity,
            dash_array=dash or None,
            line_cap="butt",
            interactive=False,
            # What lies off the screen may be on the paper.
            no_clip=True,
            class_name=f"way way-{drawn.lane}",
        )
        line.add_to(layer)


def _bounds(plan: Plan, day: Day, legs: Mapping[tuple[str, int], Leg]) -> list[list[float]]:
    """South-west and north-east corner of everything that the day touches, ways included."""
    points = [(stop.lat, stop.lon) for truck in plan.trucks for stop in truck.stops]
    points += [point for leg in legs.values() for point in leg.points]
    points += [(site.lat, site.lon) for site in day.workbook.sites.values()]
    for entry in (*plan.held, *plan.unserved):
        order = day.workbook.orders.get(entry.order_id)
        at = day.workbook.properties.get(order.property_id) if order is not None else None
        if at is not None:
            points.append((at.lat, at.lon))
    lats, lons = [lat for lat, _ in points] or [0.0], [lon for _, lon in points] or [0.0]
    return [[min(lats), min(lons)], [max(lats), max(lons)]]


class _Page:
    """A folium map that is turned into one page without links to the outside."""

    def __init__(self, bounds: list[list[float]]) -> None:
        south_west, north_east = bounds
        self._bounds = bounds
        self._map = folium.Map(
            location=[(a + b) / 2 for a, b in zip(south_west, north_east, strict=True)],
            tiles=None,
            zoom_start=13,
            attribution_control=True,
            zoom_snap=0.5,
        )
        # The links to the outside that folium would write; Leaflet is put inside instead.
        self._map.default_js = []
        self._map.default_css = []
        self._layers: dict[str, folium.FeatureGroup] = {}
        self._markers: list[tuple[folium.FeatureGroup, list[Marker]]] = []
        self.trucks: list[tuple[str, str, Look, folium.FeatureGroup]] = []
        """Id, title, look and layer of each truck that goes out."""
        self.tiles: MapTiles | None = None
        self.boxes: dict[str, str] = {}
        """Texts of the boxes on the map: legend, warning, credit; HTML of escaped text."""

    def layer(self, name: str) -> folium.FeatureGroup:
        """A new layer with a switch of that name."""
        group = folium.FeatureGroup(name=html_text(name))
        group.add_to(self._map)
        self._layers[name] = group
        return group

    def markers(self, layer: folium.FeatureGroup, markers: list[Marker]) -> None:
        """Markers to be drawn in a layer."""
        self._markers.append((layer, markers))

    def text(self, title: str, streets: Sequence[RoadStretch]) -> str:
        """The finished page."""
        switch = folium.LayerControl()
        # folium's types know yes and no only; a phone needs the switch folded, a desk does not.
        switch.options.update(collapsed=cast(bool, JsCode("window.innerWidth < 700")))
        switch.add_to(self._map)
        rendered = str(self._map.get_root().render())
        head = (
            f'<meta name="viewport" content="width=device-width, initial-scale=1">'
            f"<title>{html_text(title)}</title>\n"
            f"<style>{leaflet_css()}\n{page_file('page.css')}</style>\n"
            f"<script>{leaflet_js()}</script>\n<script>{page_file('page.js')}</script>\n"
        )
        rendered = _without_viewport(rendered)
        rendered = rendered.replace("<html>", '<html lang="en">', 1)
        rendered = rendered.replace("<head>", "<head>\n" + head, 1)
        before, closing, after = rendered.rpartition("</script>")
        script = self._script(streets) + self._online(switch.get_name())
        return _with_plain_names(before + script) + closing + after

    def _online(self, switch: str) -> str:
        """The online street map as one more switch, off."""
        if self.tiles is None:
            return ""
        row = {"address": self.tiles.address, "credit": html_text(self.tiles.credit)}
        return f"addOnlineMap({switch}, {script_json(row)});\n"

    def _script(self, streets: Sequence[RoadStretch]) -> str:
        packed = background(streets)
        name = self._map.get_name()
        calls = [
            f"drawBackground({name}, {self._layers[STREETS_LAYER].get_name()}, "
            f"{script_json({'names': packed.names, 'lines': packed.lines})});"
        ]
        calls += [
            f"drawMarkers({layer.get_name()}, {script_json(markers)});"
            for layer, markers in self._markers
        ]
        trucks = [
            {"id": truck_id, "title": title, "letter": look.letter, "color": look.color}
            for truck_id, title, look, _ in self.trucks
        ]
        boxes = {**self.boxes, "bounds": self._bounds, "trucks": trucks}
        layers = ", ".join(layer.get_name() for *_, layer in self.trucks)
        calls.append(f"finishMap({name}, {script_json(boxes)}, [{layers}]);")
        return "\n".join(calls) + "\n"


def _without_viewport(rendered: str) -> str:
    """folium's viewport line forbids zooming with two fingers; ours does not."""
    start = rendered.find('<meta name="viewport"')
    end = rendered.find("/>", start) + 2
    return rendered if start < 0 else rendered[:start] + rendered[end:]


def _with_plain_names(rendered: str) -> str:
    """Numbers for folium's random element names: the same plan gives the same text."""
    numbers: dict[str, str] = {}
    return re.sub(
        r"_([0-9a-f]{32})(?![0-9a-f])",
        lambda match: f"_{numbers.setdefault(match.group(1), str(len(numbers) + 1))}",
        rendered,
    )
