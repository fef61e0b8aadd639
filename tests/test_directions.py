"""Directions on networks drawn by hand: every kind of maneuver, worked from the coordinates.

Feet east and north; all angles can be read off the drawings. No published source: what is told
where is common practice, and how it agrees with an independent engine is measured by
tests/bench/bench_turns.py.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.roads.travel import Maneuver, distance_text, ordinal
from tests.roads_sketch import Sketch, place

Point = tuple[float, float]


def told(sketch: Sketch, folder: Path, start: Point, end: Point) -> list[str]:
    return [one.text for one in way(sketch, folder, start, end)]


def way(sketch: Sketch, folder: Path, start: Point, end: Point) -> tuple[Maneuver, ...]:
    roads = sketch.roads(folder)
    return roads.leg(place("start", *start), place("end", *end)).maneuvers


def drawn(nodes: dict[str, Point], *ways: tuple[str, str, dict[str, str]]) -> Sketch:
    sketch = Sketch()
    for name, (x, y) in nodes.items():
        sketch.node(name, x, y)
    for number, (name, points, tags) in enumerate(ways):
        sketch.ways[str(number)] = (
            points.split(),
            {"highway": "residential", "name": name, **tags},
        )
    return sketch


def star() -> Sketch:
    """Main from the west to a crossing; from there Oak north, Elm south, Pine a little left of
    straight on (27 degrees), Ash back to the left (atan 1/2 behind: 153 degrees)."""
    ends = {"C": (0, 0), "w": (-1000, 0), "n": (0, 1000), "s": (0, -1000), "p": (1000, 500)}
    ends |= {"a": (-1000, 500), "e": (1000, -10)}
    ways = ("Main", "w C"), ("Oak", "C n"), ("Elm", "C s"), ("Pine", "C p"), ("Ash", "C a")
    return drawn(ends, *((*one, {}) for one in ways), ("Main", "C e", {"ref": "US 40;OH 7"}))


@pytest.mark.parametrize(
    ("end", "words"),
    [
        ((20, 500), "Turn left onto Oak"),
        ((20, -500), "Turn right onto Elm"),
        ((500, 230), "Slight left onto Pine"),
        ((-500, 260), "Sharp left onto Ash"),
    ],
)
def test_turns_at_a_crossing(tmp_path: Path, end: Point, words: str) -> None:
    steps = told(star(), tmp_path, (-500, 20), end)
    assert steps[0] == "Head east on Main"
    assert steps[1:-1] == [words]


def test_going_on_is_not_told(tmp_path: Path) -> None:
    # 0.6 degrees to the right, the same name, and a number that only the second half carries.
    first, last = way(star(), tmp_path, (-500, 20), (500, 20))
    assert (first.text, last.text) == ("Head east on Main", "Arrive, on the left")
    assert first.miles * 5280 == pytest.approx(1000, abs=1)


def test_numbers_of_routes_and_feet(tmp_path: Path) -> None:
    first, turn, last = way(star(), tmp_path, (20, 500), (500, -30))
    assert turn.text == "Turn left onto Main (US 40, OH 7)"
    assert (turn.kind, turn.side, turn.street, turn.shield) == (
        "turn",
        "left",
        "Main",
        "US 40, OH 7",
    )
    assert (first.distance, turn.distance, last.distance) == ("500 ft", "500 ft", "")
    assert last.text == "Arrive, on the right"


def test_another_name_straight_on_is_no_turn(tmp_path: Path) -> None:
    points = {"a": (-900, 0), "b": (0, 0), "c": (900, 0), "n": (0, 500)}
    sketch = drawn(points, ("Main", "a b", {}), ("High", "b c", {}), ("Oak", "b n", {}))
    assert told(sketch, tmp_path, (-500, 9), (500, 30)) == [
        "Head east on Main",
        "Arrive, on the left",
    ]


def test_a_street_that_bends(tmp_path: Path) -> None:
    """Told where another road seems to be the way on, and not where there is none."""
    points = {"a": (-900, 0), "b": (0, 0), "c": (0, 900), "d": (900, 0)}
    ways = ("Main", "a b", {}), ("Main", "b c", {})
    assert told(drawn(points, *ways), tmp_path, (-500, 9), (30, 500))[1:-1] == []
    sketch = drawn(points, *ways, ("Oak", "b d", {}))
    assert told(sketch, tmp_path, (-500, 9), (30, 500))[1:-1] == ["Turn left onto Main"]
    assert told(sketch, tmp_path, (-500, 9), (500, 30))[1:-1] == ["Go straight onto Oak"]


def test_roundabout_counts_exits(tmp_path: Path) -> None:
    """Counter-clockwise from the south: right is the first exit, left the third."""
    points = {"S": (0, -100), "E": (100, 0), "N": (0, 100), "W": (-100, 0)}
    points |= {"s": (0, -900), "e": (900, 0), "n": (0, 900), "w": (-900, 0)}
    circle = ("", "S E N W S", {"junction": "roundabout"})
    arms = (("South", "s S", {}), ("East", "E e", {}), ("North", "N n", {}), ("West", "W w", {}))
    sketch = drawn(points, circle, *arms)
    for end, name, exit_number in (
        ((500, 20), "East", "1st"),
        ((20, 500), "North", "2nd"),
        ((-500, 20), "West", "3rd"),
    ):
        steps = told(sketch, tmp_path, (20, -500), end)
        assert steps[1:-1] == [f"At the roundabout take the {exit_number} exit onto {name}"]


def test_exit_branch_and_turn(tmp_path: Path) -> None:
    """A motorway eastward; a ramp to the right from (0, 0), which parts at (2000, -300)."""
    points = {"m": (-3000, 0), "x": (0, 0), "z": (9000, 0), "f": (2000, -300)}
    points |= {
        "y": (-4000, 0),
        "l": (3000, -250),
        "r": (3000, -500),
        "u": (3000, 900),
        "v": (3000, -1500),
    }
    sketch = drawn(
        points,
        ("", "m x z", {"highway": "motorway", "ref": "I 70"}),
        ("", "x f", {"highway": "motorway_link", "oneway": "yes", "destination": "Dayton;Xenia"}),
        ("", "f l", {"highway": "motorway_link", "oneway": "yes", "destination": "Dayton"}),
        ("", "f r", {"highway": "motorway_link", "oneway": "yes", "destination": "Xenia"}),
        ("Cross", "u l", {"highway": "secondary"}),
        ("Cross", "l r v", {"highway": "secondary"}),
        ("Yard", "m v", {}),
        ("Far", "z u", {}),
        ("Pike", "y m", {"highway": "primary"}),
    )
    sketch.tag_node("x", highway="motorway_junction", ref="12A")
    steps = told(sketch, tmp_path, (-3500, 20), (3030, 500))
    assert steps == [
        "Head east on Pike",
        "Take exit 12A on the right toward Dayton, Xenia",
        "Keep left toward Dayton",
        "Turn left onto Cross",
        "Arrive, on the right",
    ]


def test_ramp_with_its_sign(tmp_path: Path) -> None:
    points = {"a": (-900, 0), "b": (0, 0), "c": (900, 0), "k": (900, -500), "z": (5000, -600)}
    points |= {"y": (9000, -600)}
    link = {"highway": "motorway_link", "oneway": "yes", "destination": "Dayton"}
    sketch = drawn(
        points,
        ("Main", "a b c", {}),
        ("", "b k", link | {"destination:ref": "I 70 East"}),
        ("", "k z", {"highway": "motorway", "ref": "I 70"}),
        ("End", "z y", {"highway": "primary"}),
        ("Back", "y c", {}),
    )
    steps = told(sketch, tmp_path, (-500, 20), (7000, -580))
    assert steps[1] == "Take the ramp on the right toward I 70 East, Dayton"


def test_channel_for_turning_is_one_turn(tmp_path: Path) -> None:
    points = {"a": (-900, 0), "b": (-200, 0), "c": (0, 0), "d": (0, -200), "s": (0, -900)}
    points |= {"e": (900, 0), "n": (0, 900), "m": (-60, -60)}
    sketch = drawn(
        points,
        ("Main", "a b c e", {"highway": "primary"}),
        ("Elm", "n c d s", {"highway": "primary"}),
        ("", "b m d", {"highway": "primary_link", "oneway": "yes"}),
    )
    assert told(sketch, tmp_path, (-500, 9), (30, -500))[1:-1] == ["Turn right onto Elm"]


def test_u_turn_between_carriageways(tmp_path: Path) -> None:
    points = {"a": (-900, 0), "b": (500, 0), "c": (900, 0), "A": (-900, 60), "B": (500, 60)}
    points |= {"C": (900, 60)}
    one_way = {"highway": "primary", "oneway": "yes"}
    sketch = drawn(
        points,
        ("Main", "a b c", one_way),
        ("Main", "C B A", one_way),
        ("", "b B", {}),
        ("", "c C", {}),
        ("", "a A", {}),
    )
    steps = told(sketch, tmp_path, (-500, -30), (-500, 90))
    assert steps == ["Head east on Main", "Make a U-turn onto Main", "Arrive, on the right"]


def test_end_of_the_street_turns_the_truck(tmp_path: Path) -> None:
    """From Oak nobody may turn right: the truck goes left, turns round at the end of Main, and
    passes Oak again."""
    points = {"a": (0, 0), "b": (400, 0), "c": (800, 0), "d": (400, 700)}
    sketch = drawn(points, ("Main", "a b c", {}), ("Oak", "b d", {}))
    sketch.rule("no_right_turn", "1", "b", "0")
    steps = told(sketch, tmp_path, (430, 500), (100, -30))
    turns = ["Turn left onto Main", "Make a U-turn onto Main"]
    assert steps == ["Head south on Oak", *turns, "Arrive, on the left"]


@pytest.mark.parametrize(
    ("end", "words"),
    [
        ((500, 40), "Arrive, on the left"),
        ((500, -40), "Arrive, on the right"),
        ((500, 4), "Arrive"),  # On the road itself.
        ((960, 10), "Arrive"),  # Beyond the end of the street: ahead.
    ],
)
def test_side_of_arrival(tmp_path: Path, end: Point, words: str) -> None:
    points = {"a": (-900, 0), "b": (0, 0), "c": (900, 0), "n": (0, 500)}
    sketch = drawn(points, ("Main", "a b c", {}), ("Oak", "b n", {}))
    assert told(sketch, tmp_path, (-500, 9), end)[-1] == words


def test_words_of_distances() -> None:
    feet = (0, 74, 320, 528, 7000, 52_536, 60_000)
    told = ["50 ft", "50 ft", "300 ft", "0.1 mi", "1.3 mi", "10 mi", "11 mi"]
    assert [distance_text(one / 5280) for one in feet] == told
    assert [ordinal(n) for n in (1, 2, 3, 4, 11, 12, 13, 21)] == [
        *("1st", "2nd", "3rd", "4th", "11th", "12th", "13th", "21st")
    ]
