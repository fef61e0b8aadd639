"""Road files: reading, clipping, the cache, and the stand-ins without an extract."""

from __future__ import annotations

import hashlib
import json
import math
import re
import subprocess
import sys
from datetime import date
from pathlib import Path

import numpy as np
import osmium
import pytest
from click.testing import CliRunner

from planner.cli.main import main
from planner.outputs.local_folder import cache_folder
from planner.roads import cache, reader
from planner.roads.cache import cache_file, cached_graph, content_sha256
from planner.roads.extract import ExtractRoads
from planner.roads.limits import HoursWorked
from planner.roads.network import CLIP_MARGIN_MILES, Box, clip_around
from planner.roads.open import given, open_roads, straight_line
from planner.roads.reader import read_extract
from planner.roads.travel import Place, RoadError, VehicleLimits
from tests.roads_sketch import ENDS, at, block, drive, place

OPTIONS = {"straight_line_factor": 1.3, "straight_line_speed_mph": 26.0, "road_time_factor": 1.0}


@pytest.fixture(autouse=True)
def own_cache(tmp_path, monkeypatch):
    monkeypatch.setenv("PLANNER_CACHE_DIR", str(tmp_path / "cache"))


def as_pbf(source: Path) -> Path:
    target = source.with_suffix(".osm.pbf")
    with osmium.SimpleWriter(str(target)) as writer:
        for thing in osmium.FileProcessor(str(source)):
            writer.add(thing)
    return target


def test_pbf_and_xml_and_any_order_read_the_same(tmp_path):
    sketch = block()
    sketch.tag("South", oneway="yes")
    sketch.rule("no_left_turn", "South", "B", "East")
    sorted_file = sketch.write(tmp_path / "sorted.osm")
    unsorted_file = sketch.write(tmp_path / "unsorted.osm", ways_first=True)
    graphs = [
        cached_graph(path, None)[0] for path in (sorted_file, unsorted_file, as_pbf(sorted_file))
    ]
    for graph in graphs[1:]:
        for name in cache.ARRAYS:
            assert np.array_equal(getattr(graph, name), getattr(graphs[0], name)), name


def test_clip_keeps_what_is_near(tmp_path):
    sketch = block()
    sketch.node("far1", 300_000, 0)
    sketch.node("far2", 301_000, 0)
    sketch.way("Far away", "far1 far2")
    path = sketch.write(tmp_path / "clip.osm")
    raw = read_extract(path, clip_around(list(ENDS.values())))
    assert "Far away" not in {rule.label.name for rule in raw.rules}
    assert len(raw.node_ids) == 8
    assert "Far away" in {rule.label.name for rule in read_extract(path, None).rules}


def test_clip_has_its_margin_and_stays_the_same_for_a_near_customer():
    box = clip_around([Place("p", 40.0, -83.0)])
    assert box is not None
    assert (40.0 - box.south) * 69 >= CLIP_MARGIN_MILES
    assert (box.east + 83.0) * 69 * math.cos(math.radians(40)) >= CLIP_MARGIN_MILES * 0.99
    assert clip_around([Place("p", 40.0, -83.0), Place("q", 40.001, -83.001)]) == box
    assert clip_around([]) is None


def test_water_is_drawn(tmp_path):
    sketch = block()
    sketch.ways["River"] = (["a", "d"], {"waterway": "river", "name": "Green River"})
    sketch.ways["Pond"] = (["A", "B", "C", "A"], {"natural": "water"})
    roads = sketch.roads(tmp_path)
    water = [street for street in roads.streets() if street.kind == "water"]
    assert [(w.name, len(w.points)) for w in water] == [("Green River", 2), ("", 4)]
    streets = {street.name: street for street in roads.streets() if street.kind != "water"}
    assert set(streets) == set(block().ways)
    assert streets["South"].kind == "minor"


def test_way_with_nodes_missing_is_cut_there(tmp_path):
    sketch = block()
    path = sketch.write(tmp_path / "gap.osm")
    text = path.read_text().replace(
        '<way id="1" version="1"><nd ref="1"/>',
        '<way id="1" version="1"><nd ref="1"/><nd ref="99"/>',
    )
    path.write_text(text)
    assert len(read_extract(path, None).rules) == 7


@pytest.mark.parametrize("content", [b"", b"no road file", b"\x00\x00\x00\x0d\x0a\x09OSMHeader"])
def test_broken_extract_is_said(tmp_path, content):
    path = tmp_path / "broken.osm.pbf"
    path.write_bytes(content)
    with pytest.raises(RoadError, match=r"broken\.osm\.pbf"):
        open_roads(path, [], **OPTIONS)


def test_empty_file_and_negative_ids_are_said(tmp_path):
    (tmp_path / "empty.osm.pbf").write_bytes(b"")
    with pytest.raises(RoadError, match=r"empty\.osm\.pbf is empty"):
        open_roads(tmp_path / "empty.osm.pbf", [], **OPTIONS)
    path = block().write(tmp_path / "drawn.osm")
    text = re.sub(r'<node id="', '<node id="-', path.read_text())
    path.write_text(re.sub(r'<nd ref="', '<nd ref="-', text))
    with pytest.raises(RoadError, match="negative ids"):
        open_roads(path, [], **OPTIONS)


def test_missing_and_foreign_files(tmp_path):
    with pytest.raises(RoadError, match="cannot be read"):
        open_roads(tmp_path / "none.osm.pbf", [], **OPTIONS)
    with pytest.raises(RoadError, match="no road file"):
        open_roads(tmp_path / "roads.shp", [], **OPTIONS)


def test_what_is_wrong_in_the_planner_is_not_told_of_the_extract(tmp_path, monkeypatch):
    path = block().write(tmp_path / "town.osm")
    odd = tmp_path / "odd.osm"
    odd.write_text(re.sub(r'<way id="', '<way id="x', path.read_text()))
    with pytest.raises(RoadError, match=r"odd\.osm cannot be read"):
        reader.read_extract(odd, None)

    def wrong(tags):
        raise ValueError("a mistake in the rules of ways")

    monkeypatch.setattr(reader, "way_rule", wrong)
    with pytest.raises(ValueError, match="a mistake"):
        reader.read_extract(path, None)


def test_extract_of_elsewhere_is_said(tmp_path):
    path = block().write(tmp_path / "here.osm")
    with pytest.raises(RoadError, match="covers the work area"):
        open_roads(path, [Place("far", -12.0, 30.0)], **OPTIONS)


def test_open_extract_with_time_factor(tmp_path):
    path = block().write(tmp_path / "town.osm")
    plain = open_roads(path, list(ENDS.values()), **OPTIONS)
    slow = open_roads(path, list(ENDS.values()), **(OPTIONS | {"road_time_factor": 1.5}))
    a, b = (roads.travel(list(ENDS.values())) for roads in (plain, slow))
    assert np.allclose(b.minutes, a.minutes * 1.5)
    assert np.array_equal(a.miles, b.miles)
    assert plain.warning == ""
    assert str(tmp_path) not in plain.description


def test_second_time_from_the_cache_and_the_same(tmp_path):
    sketch = block()
    sketch.rule("no_left_turn", "South", "B", "East")
    path = sketch.write(tmp_path / "town.osm")
    first, _, cached = cached_graph(path, None)
    assert not cached
    second, _, cached = cached_graph(path, None)
    assert cached
    assert second.names == first.names
    for name in cache.ARRAYS:
        one, two = getattr(first, name), getattr(second, name)
        assert one.dtype == two.dtype
        assert np.array_equal(one, two), name
    assert not cached_graph(path, Box(39, -84, 41, -82))[2]


def test_changed_extract_is_read_anew(tmp_path):
    path = block().write(tmp_path / "town.osm")
    cached_graph(path, None)
    sketch = block()
    sketch.ways["South"][1]["name"] = "New Name"
    sketch.write(path)
    graph, _, cached = cached_graph(path, None)
    assert not cached
    assert "New Name" in graph.names


@pytest.mark.parametrize("harm", ["cut", "flip", "foreign", "old", "rows", "text"])
def test_cache_that_cannot_be_trusted_is_rebuilt(tmp_path, harm, monkeypatch):
    path = block().write(tmp_path / "town.osm")
    good, sha256, _ = cached_graph(path, None)
    file = cache_file(sha256, None)
    content = file.read_bytes()
    if harm == "cut":
        file.write_bytes(content[: len(content) // 2])
    elif harm == "flip":
        middle = content.index(good.lat.tobytes())
        file.write_bytes(content[: middle + 3] + b"\xff" + content[middle + 4 :])
    elif harm == "foreign":
        other = block().write(tmp_path / "other.osm")
        other.write_text(other.read_text().replace("North", "Nord"))
        cached_graph(other, None)
        cache_file(content_sha256(other), None).replace(file)
    elif harm == "old":
        monkeypatch.setattr(cache, "GRAPH_VERSION", 999)
    elif harm == "rows":
        with np.load(file) as stored:
            arrays = dict(stored)
        arrays["arc_end"] = arrays["arc_end"] + 10_000
        np.savez(file, **arrays)
    else:
        file.write_text("not a graph")
    graph, _, cached = cached_graph(path, None)
    assert not cached
    assert graph.names == good.names
    assert np.array_equal(graph.lat, good.lat)
    assert cached_graph(path, None)[2]
    assert not list(file.parent.glob("*.tmp"))


def test_version_is_raised_when_graphs_change(tmp_path):
    """Fails when the same extract makes another graph than before: raise GRAPH_VERSION (or every
    user goes on with the graphs in the cache), then write the new version and digest here."""
    sketch = block()
    sketch.tag("South", oneway="yes", maxspeed="30 mph")
    sketch.node("s", 980, 0, highway="stop")
    sketch.way("South", "A s B")
    sketch.rule("no_left_turn", "South", "B", "East")
    sketch.rule("no_u_turn", "Stub a", "West", "Stub d")
    graph = cached_graph(sketch.write(tmp_path / "town.osm"), None)[0]
    whole = ("tail", "head", "start", "forward_ms", "backward_ms", "length_tenth_ft")
    whole += ("arc_begin", "arc_end", "arc_ms", "state_edge")
    whole += ("point_label", "label_table", "exit_name", "roundabout")
    content = b"".join(getattr(graph, name).tobytes() for name in whole)
    digest = hashlib.sha256(content).hexdigest()[:16]
    assert (cache.GRAPH_VERSION, digest) == (8, "89150acad26346a9")


def test_cache_folder_that_cannot_be_written_is_no_error(tmp_path, monkeypatch):
    blocked = tmp_path / "a file"
    blocked.write_text("")
    monkeypatch.setenv("PLANNER_CACHE_DIR", str(blocked))
    path = block().write(tmp_path / "town.osm")
    assert not cached_graph(path, None)[2]
    assert not cached_graph(path, None)[2]


def test_many_builders_at_once(tmp_path):
    from concurrent.futures import ThreadPoolExecutor

    path = block().write(tmp_path / "town.osm")
    with ThreadPoolExecutor(6) as pool:
        graphs = list(pool.map(lambda _: cached_graph(path, None)[0], range(12)))
    assert all(np.array_equal(graph.lat, graphs[0].lat) for graph in graphs)
    assert cached_graph(path, None)[2]


BUILDER = """
import sys, time, pathlib
from planner.roads.cache import cached_graph
while not pathlib.Path(sys.argv[2]).exists():
    time.sleep(0.005)
graph = cached_graph(pathlib.Path(sys.argv[1]), None)[0]
print(graph.edge_count, int(graph.arc_ms.sum()), len(graph.names))
"""


def test_processes_that_build_at_once_do_not_harm_each_other(tmp_path):
    """Four processes of their own start on one signal; one more is killed in the middle of it."""
    town = Path(__file__).resolve().parents[1] / "maps" / "alder-mills.osm.pbf"
    signal = tmp_path / "go"
    command = [sys.executable, "-c", BUILDER, str(town), str(signal)]
    builders = [subprocess.Popen(command, stdout=subprocess.PIPE, text=True) for _ in range(4)]
    victim = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    signal.touch()
    victim.kill()
    answers = {builder.communicate(timeout=120)[0] for builder in builders}
    victim.wait()
    assert [builder.returncode for builder in builders] == [0, 0, 0, 0]
    assert len(answers) == 1
    graph, _, cached = cached_graph(town, None)
    assert cached
    assert answers == {f"{graph.edge_count} {int(graph.arc_ms.sum())} {len(graph.names)}\n"}


def test_what_a_killed_process_left_is_swept_away(tmp_path, monkeypatch):
    path = block().write(tmp_path / "town.osm")
    folder = cache_folder() / "roads"
    folder.mkdir(mode=0o700, parents=True)
    (folder / "half.tmp").write_bytes(b"half a graph")
    cached_graph(path, None)
    assert (folder / "half.tmp").exists()  # Another planner may be writing it now.
    monkeypatch.setattr(cache, "LEFT_BEHIND_S", -1)
    cached_graph(path, Box(39, -84, 41, -82))
    assert not (folder / "half.tmp").exists()


def test_old_graphs_are_thrown_away(tmp_path, monkeypatch):
    monkeypatch.setattr(cache, "FILES_KEPT", 3)
    path = block().write(tmp_path / "town.osm")
    for step in range(6):
        cached_graph(path, Box(39 - step, -84, 41, -82))
    assert len(list((cache_folder() / "roads").glob("*.npz"))) == 3


def test_straight_line():
    # One degree of latitude is pi/180 of the mean radius 6,371.0088 km: 69.0936 miles; times 1.3
    # at 26 mph. HoursWorked by hand.
    roads = straight_line(1.3, 26.0)
    a, b = Place("a", 40.0, -83.0), Place("b", 41.0, -83.0)
    travel = roads.travel([a, b])
    assert travel.miles[0, 1] == pytest.approx(69.0936 * 1.3, rel=1e-5)
    assert travel.minutes[1, 0] == pytest.approx(69.0936 * 1.3 / 26 * 60, rel=1e-5)
    assert travel.minutes[0, 0] == 0
    assert roads.leg(a, b).points == ((40.0, -83.0), (41.0, -83.0))
    assert "NO ROAD MAP" in roads.warning
    assert open_roads(None, [], **OPTIONS).warning == roads.warning
    assert roads.snaps([a]) == []
    assert roads.streets() == []


def test_given_table(tmp_path):
    path = tmp_path / "times.csv"
    path.write_text("\ufefffrom,to,minutes,miles\ny,p,5,2.5\np,y,6.5,2.6\n\n", encoding="utf-8")
    roads = open_roads(path, [], **OPTIONS)
    travel = roads.travel([Place("p", 0, 0), Place("y", 0, 1)])
    assert travel.minutes.tolist() == [[0, 6.5], [5, 0]]
    assert travel.miles.tolist() == [[0, 2.6], [2.5, 0]]
    assert travel.place_ids == ("p", "y")
    assert roads.warning != ""


def test_given_table_names_every_missing_pair(tmp_path):
    path = tmp_path / "times.csv"
    path.write_text("from;to;minutes;miles\ny;p;5;2.5\n")
    with pytest.raises(RoadError) as caught:
        given(path).travel([Place("p", 0, 0), Place("y", 0, 1), Place("q", 1, 1)])
    message = str(caught.value)
    assert all(pair in message for pair in ("p to y", "p to q", "q to p", "y to q", "q to y"))
    assert "y to p" not in message
    assert caught.value.place_ids == ("p", "y", "q")


def test_given_table_names_every_bad_row(tmp_path):
    path = tmp_path / "times.csv"
    path.write_text("from,to,minutes,miles\na,b,-1,2\na,c,x,2\n,c,1,1\na,d,1,1\na,d,2,1\n")
    with pytest.raises(RoadError) as caught:
        given(path)
    assert all(f"row {row}:" in str(caught.value) for row in (2, 3, 4, 6))
    path.write_text("from,to,minutes,miles\na,b,nan,2\na,c,1e9,1\nb,c,8,300\na,d,0,0.5\n")
    with pytest.raises(RoadError, match=r"row 2.*found 'nan' and '2'.*row 3.*row 4.*so fast$"):
        given(path)
    path.write_text("from,to,miles\n")
    with pytest.raises(RoadError, match="lacks minutes"):
        given(path)


def test_roads_command(tmp_path):
    sketch = block()
    sketch.tag("South", oneway="yes")
    path = sketch.write(tmp_path / "town.osm")
    run = CliRunner().invoke(main, ["roads", str(path), "--json"])
    assert run.exit_code == 0
    facts = json.loads(run.output)
    # 6,000 ft of streets are 1.8 km, of which South, 1,000 ft, is one-way.
    assert (facts["roads_km"], facts["one_way_km"]) == (1.8, 0.3)
    assert (facts["junctions"], facts["from_cache"]) == (4, False)
    run = CliRunner().invoke(main, ["roads", str(path)])
    assert "opened from the cache" in run.output
    bad = tmp_path / "bad.osm.pbf"
    bad.write_text("x")
    run = CliRunner().invoke(main, ["roads", str(bad)])
    assert run.exit_code == 1
    assert "bad.osm.pbf cannot be read" in run.output
    assert "Traceback" not in run.output


def test_no_places(tmp_path):
    roads = block().roads(tmp_path)
    assert roads.travel([]).minutes.shape == (0, 0)
    assert roads.snaps([]) == []
    assert at(0, 0) == (40.0, -83.0)
    assert drive(roads, place("p", 0, 0), place("q", 0, 0))[1:] == (0.0, 0.0)


@pytest.mark.parametrize(
    ("tags", "end", "counted"),
    [
        ({"maxweight:conditional": "3 st @ (Sa 08:00-12:00)"}, "b", 1),
        ({"access:conditional": "no @ (Sa)"}, "b", 0),
        ({"day_on": "Saturday", "day_off": "Saturday"}, "d", 0),
        ({"hour_on": "07:00", "hour_off": "09:00", "day_on": "Saturday"}, "d", 1),
    ],
)
def test_what_cannot_hold_on_the_day_does_not_count(tmp_path, tags, end, counted):
    sketch, truck = block(), VehicleLimits(weight_lb=11_000)
    if end == "b":
        sketch.tag("South", **tags)
    else:
        sketch.rule("no_left_turn", "Stub a", "A", "West", **tags)
    path, feet, told = sketch.write(tmp_path / "sketch.osm"), [], []
    for day in (16, 17):  # a Friday, a Saturday
        worked = HoursWorked(date(2027, 4, day), 420, 1020)
        roads = ExtractRoads(cached_graph(path, None, worked)[0], "sketch", worked=worked)
        feet.append(round(drive(roads, "a", end, truck)[2]))
        told.append(roads.doubts(()).hours)
        assert cached_graph(path, None, worked)[2]
    assert feet == [2000, 4000]
    assert told == [0, counted], "what holds all of the day needs no word"
    assert len(cached_graph(path, None)[0].conditions) == 1
