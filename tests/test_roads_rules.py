"""Rules of the road on hand-made networks; every expected way is worked by hand.

Streets are 1,000 ft, dead ends 500 ft, all residential without a posted limit. The meaning of
the tags is that of the OpenStreetMap wiki (Key:oneway, Key:access, Relation:restriction,
Key:maxheight, Key:maxweight, Key:barrier; https://wiki.openstreetmap.org).
"""

import pytest

from planner.roads.speeds import (
    CLASSES,
    LEFT_TURN_S,
    RIGHT_TURN_S,
    SIGNAL_S,
    STOP_S,
    U_TURN_S,
)
from planner.roads.travel import RoadError, VehicleLimits
from tests.roads_sketch import ENDS, Sketch, block, drive, place

RESIDENTIAL_MPH = CLASSES["residential"].mph


def minutes(feet, *seconds):
    """Drive time of a length at the unposted residential speed, plus seconds of penalties."""
    return feet / 5280 / RESIDENTIAL_MPH * 60 + sum(seconds) / 60


def test_straight_through(tmp_path):
    streets, drive_min, feet = drive(block().roads(tmp_path), "a", "b")
    assert streets == ("Stub a", "South", "Stub b")
    assert feet == pytest.approx(2000, abs=1)
    assert drive_min == pytest.approx(minutes(2000), rel=1e-3)


def test_left_turn_costs_more_than_right(tmp_path):
    # a to c: South and a left into East, or a left into West and a right into North. From the
    # stub, West is a left, and North then a right: 10 s; South then East: left, and right into
    # the stub. c to a is the same seen from the other side.
    roads = block().roads(tmp_path)
    _, drive_min, feet = drive(roads, "a", "c")
    assert feet == pytest.approx(3000, abs=1)
    assert drive_min == pytest.approx(minutes(3000, LEFT_TURN_S, RIGHT_TURN_S), rel=1e-3)
    # d to c: straight on, no turn. a to d: left into West, left into the stub.
    assert drive(roads, "a", "d")[1] == pytest.approx(
        minutes(2000, LEFT_TURN_S, LEFT_TURN_S), rel=1e-3
    )
    assert drive(roads, "d", "a")[1] == pytest.approx(
        minutes(2000, RIGHT_TURN_S, RIGHT_TURN_S), rel=1e-3
    )


@pytest.mark.parametrize(("value", "open_way"), [("yes", "ab"), ("1", "ab"), ("-1", "ba")])
def test_oneway(tmp_path, value, open_way):
    sketch = block()
    sketch.tag("South", oneway=value)
    roads = sketch.roads(tmp_path)
    start, end = open_way
    assert drive(roads, start, end)[2] == pytest.approx(2000, abs=1)
    streets, _, feet = drive(roads, end, start)
    assert feet == pytest.approx(4000, abs=1)
    assert "South" not in streets


def test_reversible_is_closed(tmp_path):
    sketch = block()
    sketch.tag("South", oneway="reversible")
    roads = sketch.roads(tmp_path)
    assert drive(roads, "a", "b")[2] == pytest.approx(4000, abs=1)
    assert drive(roads, "b", "a")[2] == pytest.approx(4000, abs=1)


def test_roundabout_goes_one_way(tmp_path):
    # The block as a roundabout, drawn A B C D: counter-clockwise, as in the US.
    sketch = block()
    for name in ("South", "East", "North", "West"):
        del sketch.ways[name]
    sketch.way("Circle", "A B C D A", junction="roundabout")
    roads = sketch.roads(tmp_path)
    assert drive(roads, "a", "b")[2] == pytest.approx(2000, abs=1)
    assert drive(roads, "b", "a")[2] == pytest.approx(4000, abs=1)


def test_no_turn(tmp_path):
    sketch = block()
    sketch.rule("no_left_turn", "Stub a", "A", "West")
    assert drive(sketch.roads(tmp_path), "a", "c")[0] == ("Stub a", "South", "East", "Stub c")
    sketch = block()
    sketch.rule("no_left_turn", "South", "B", "East")
    assert drive(sketch.roads(tmp_path), "a", "c")[0] == ("Stub a", "West", "North", "Stub c")


def test_only_straight_on_and_turning_at_a_dead_end(tmp_path):
    # Both ways round are forbidden to turn, so the truck runs past B into the dead end, turns
    # round there, and comes back to East by a right turn: 500 + 1000 + 2 x 500 + 1000 + 500 ft,
    # and again a right turn into the stub.
    sketch = block()
    sketch.rule("only_straight_on", "Stub a", "A", "South")
    sketch.rule("only_straight_on", "South", "B", "Stub b")
    streets, drive_min, feet = drive(sketch.roads(tmp_path), "a", "c")
    assert streets == ("Stub a", "South", "Stub b", "East", "Stub c")
    assert feet == pytest.approx(4000, abs=1)
    expected = minutes(4000, U_TURN_S, RIGHT_TURN_S, RIGHT_TURN_S)
    assert drive_min == pytest.approx(expected, rel=1e-3)


def test_rule_binds_only_from_its_street(tmp_path):
    sketch = block()
    sketch.rule("only_straight_on", "South", "B", "Stub b")
    assert drive(sketch.roads(tmp_path), "b", "c")[0] == ("Stub b", "East", "Stub c")


@pytest.mark.parametrize(
    "tags",
    [
        {"except": "motorcar"},
        {"except": "bicycle;motor_vehicle"},
        {"hour_on": "22:00", "hour_off": "04:00"},
    ],
)
def test_rules_that_do_not_count(tmp_path, tags):
    sketch = block()
    sketch.rule("no_left_turn", "Stub a", "A", "West", **tags)
    sketch.rule("no_straight_on", "Stub a", "A", "South", **tags)
    drive(sketch.roads(tmp_path), "a", "c")


# https://wiki.openstreetmap.org/wiki/Conditional_restrictions and Relation:restriction.
@pytest.mark.parametrize(
    ("tags", "first", "ignored"),
    [
        ({"restriction:conditional": "no_left_turn @ (Mo-Fr 07:00-09:00)"}, "South", 0),
        ({"restriction:hgv:conditional": "no_left_turn @ (Mo-Fr)"}, "South", 0),
        ({"restriction": "no_left_turn", "hour_on": "07:00", "hour_off": "09:00"}, "South", 0),
        ({"restriction:conditional": "no_left_turn @ (22:00-04:00)"}, "West", 1),
        ({"restriction:conditional": "no_left_turn @ (weight>20)"}, "West", 1),
        ({"restriction:conditional": "only_straight_on @ (07:00-09:00)"}, "West", 1),
    ],
)
def test_turns_barred_for_some_hours_of_work(tmp_path, tags, first, ignored):
    sketch = block()
    sketch.rule("", "Stub a", "A", "West")
    rule, members = sketch.rules.pop()
    del rule["restriction"]
    sketch.rules.append((rule | tags, members))
    roads = sketch.roads(tmp_path)
    assert roads.graph.turn_rules_ignored == ignored
    assert drive(roads, "a", "d" if ignored else "c")[0][1] == first


def test_no_u_turn_at_a_junction(tmp_path):
    # From the middle of South to a point a little behind: with a stop the truck turns where it
    # stands, but a way through a junction never turns on the spot.
    sketch = block()
    sketch.tag("Stub b", oneway="-1")
    streets, _, feet = drive(sketch.roads(tmp_path), "a", "d")
    assert streets == ("Stub a", "West", "Stub d")
    assert feet == pytest.approx(2000, abs=1)


def dual_road():
    """Two carriageways, Go eastward and Back westward, joined by the short Link in the middle."""
    sketch = Sketch()
    for name, x, y in (
        ("g0", 0, 0),
        ("g1", 1000, 0),
        ("g2", 2000, 0),
        ("r0", 0, 60),
        ("r1", 1000, 60),
        ("r2", 2000, 60),
    ):
        sketch.node(name, x, y)
    sketch.way("Go west part", "g0 g1", oneway="yes")
    sketch.way("Go east part", "g1 g2", oneway="yes")
    sketch.way("Back east part", "r2 r1", oneway="yes")
    sketch.way("Back west part", "r1 r0", oneway="yes")
    sketch.way("Link", "g1 r1")
    sketch.way("West end", "r0 g0")
    sketch.way("East end", "g2 r2")
    return sketch


def test_rule_over_a_via_way(tmp_path):
    start, end = place("s", 500, 0), place("e", 500, 60)
    streets, _, feet = drive(dual_road().roads(tmp_path), start, end)
    assert streets == ("Go west part", "Link", "Back west part")
    assert feet == pytest.approx(1060, abs=1)
    sketch = dual_road()
    sketch.rule("no_u_turn", "Go west part", "Link", "Back west part")
    roads = sketch.roads(tmp_path)
    streets, _, feet = drive(roads, start, end)
    assert "Link" not in streets
    assert feet == pytest.approx(3060, abs=1)
    # Whoever comes to the link from elsewhere may still use it: out of the link itself.
    streets, _, _ = drive(roads, place("link", 1000, 30), end)
    assert streets == ("Link", "Back west part")


def test_only_rule_over_a_via_way(tmp_path):
    sketch = dual_road()
    sketch.node("n", 1000, 1000)
    sketch.way("North road", "r1 n")
    start = place("s", 500, 0)
    assert drive(sketch.roads(tmp_path), start, place("n", 1000, 1000))[2] == pytest.approx(
        500 + 60 + 940, abs=1
    )
    sketch.rule("only_left_turn", "Go west part", "Link", "Back west part")
    streets, _, _ = drive(sketch.roads(tmp_path), start, place("n", 1000, 1000))
    assert streets[:2] != ("Go west part", "Link") or streets[2] == "Back west part"
    assert drive(sketch.roads(tmp_path), start, place("e", 500, 60))[2] == pytest.approx(
        1060, abs=1
    )


@pytest.mark.parametrize("value", ["private", "destination", "delivery", "customers"])
def test_ends_only_road_shortens_no_trip(tmp_path, value):
    sketch = block()
    sketch.tag("South", access=value)
    roads = sketch.roads(tmp_path)
    assert drive(roads, "a", "b")[2] == pytest.approx(4000, abs=1)
    # but a trip may end and begin on it,
    middle = place("m", 500, 0)
    assert drive(roads, "a", middle)[2] == pytest.approx(1000, abs=1)
    assert drive(roads, middle, "b")[2] == pytest.approx(1000, abs=1)
    assert drive(roads, middle, place("m2", 700, 0))[2] == pytest.approx(200, abs=1)


def test_motor_vehicle_goes_before_access(tmp_path):
    sketch = block()
    sketch.tag("South", access="no", motor_vehicle="yes")
    assert drive(sketch.roads(tmp_path), "a", "b")[2] == pytest.approx(2000, abs=1)
    sketch.tag("South", access="yes", motor_vehicle="no")
    assert drive(sketch.roads(tmp_path), "a", "b")[2] == pytest.approx(4000, abs=1)


def test_public_street_behind_a_private_one(tmp_path):
    # The only way into Stub b is private: its customer is still served.
    sketch = block()
    sketch.node("b1", 1250, 0)
    sketch.way("Stub b", "b1 b")
    sketch.way("Private lane", "B b1", access="private")
    streets, _, feet = drive(sketch.roads(tmp_path), "a", "b")
    assert streets == ("Stub a", "South", "Private lane", "Stub b")
    assert feet == pytest.approx(2000, abs=1)


@pytest.mark.parametrize(
    ("tags", "feet"),
    [
        ({"barrier": "bollard"}, 4000),
        ({"barrier": "bollard", "motor_vehicle": "yes"}, 2000),
        ({"barrier": "gate"}, 4000),
        ({"barrier": "gate", "access": "yes"}, 2000),
        ({"barrier": "lift_gate", "access": "private"}, 4000),
        ({"barrier": "toll_booth"}, 2000),
        ({"barrier": "gate", "access": "no"}, 4000),
    ],
)
def test_barriers(tmp_path, tags, feet):
    sketch = block()
    sketch.node("gate", 500, 0, **tags)
    sketch.way("South", "A gate B")
    assert drive(sketch.roads(tmp_path), "a", "b")[2] == pytest.approx(feet, abs=1)


def test_customer_behind_a_gate_is_reached_but_not_behind_a_bollard(tmp_path):
    for barrier, reached in (("gate", True), ("bollard", False)):
        sketch = block()
        sketch.node("bar", -250, 0, barrier=barrier)
        sketch.way("Stub a", "a bar A")
        roads = sketch.roads(tmp_path)
        feet = drive(roads, "b", "a")[2]
        # Behind a bollard nothing is connected; the nearest road is this side of it.
        assert feet == pytest.approx(2000 if reached else 1750, abs=1)
        assert roads.snaps([place("x", -500, 0)])[0].distance_ft == pytest.approx(
            0 if reached else 250, abs=1
        )


@pytest.mark.parametrize(
    ("tags", "limits", "feet"),
    [
        ({"maxheight": "10'6\""}, VehicleLimits(height_ft=11), 4000),
        ({"maxheight": "10'6\""}, VehicleLimits(height_ft=10.4), 2000),
        ({"maxheight": "10'6\""}, None, 2000),
        ({"maxheight": "3.2"}, VehicleLimits(height_ft=10.6), 4000),
        ({"maxheight": "default"}, VehicleLimits(height_ft=13), 2000),
        ({"maxweight": "8 st"}, VehicleLimits(weight_lb=16_500), 4000),
        ({"maxweight": "8 st"}, VehicleLimits(weight_lb=15_900), 2000),
        ({"maxweight": "8"}, VehicleLimits(weight_lb=17_000), 2000),
        ({"maxweight": "15000 lbs"}, VehicleLimits(weight_lb=17_000), 4000),
        ({"maxaxleload": "5 st"}, VehicleLimits(axle_lb=12_000), 4000),
        ({"maxaxleload": "5 st"}, VehicleLimits(weight_lb=19_000), 2000),
        ({"maxlength": "6"}, VehicleLimits(length_ft=25), 4000),
        ({"maxwidth": "2"}, VehicleLimits(width_ft=7), 4000),
        ({"hgv:forward": "no"}, VehicleLimits(weight_lb=17_000), 4000),
        ({"hgv": "no"}, VehicleLimits(weight_lb=17_000), 4000),
        ({"hgv": "no"}, VehicleLimits(weight_lb=9_900), 2000),
        ({"hgv": "designated"}, VehicleLimits(weight_lb=17_000), 2000),
    ],
)
def test_truck_limits(tmp_path, tags, limits, feet):
    sketch = block()
    sketch.tag("South", **tags)
    assert drive(sketch.roads(tmp_path), "a", "b", limits)[2] == pytest.approx(feet, abs=1)


def test_low_beam_at_a_node(tmp_path):
    sketch = block()
    sketch.node("beam", 500, 0, barrier="height_restrictor", maxheight="7'")
    sketch.way("South", "A beam B")
    roads = sketch.roads(tmp_path)
    tall = VehicleLimits(height_ft=8)
    assert drive(roads, "a", "b", tall)[2] == pytest.approx(4000, abs=1)
    assert drive(roads, "a", place("m", 400, 0), tall)[2] == pytest.approx(900, abs=1)
    assert drive(roads, "a", "b")[2] == pytest.approx(2000, abs=1)


@pytest.mark.parametrize(
    ("tags", "limits", "words"),
    [
        ({"maxheight": "10'6\""}, VehicleLimits(height_ft=11), "South (height limit 10.5 ft)"),
        ({"maxweight": "8 st"}, VehicleLimits(16_500, 9), "South (weight limit 16,000 lb)"),
        ({"hgv": "no"}, VehicleLimits(weight_lb=17_000), "South (no trucks)"),
        ({"maxheight": "10'6\""}, VehicleLimits(height_ft=10), ""),
        ({"maxheight": "10'6\""}, None, ""),
        ({}, VehicleLimits(80_000, 13.5), ""),
    ],
)
def test_a_way_round_says_what_bars_the_shorter_one(tmp_path, tags, limits, words):
    sketch = block()
    sketch.tag("South", **tags)
    leg = sketch.roads(tmp_path).leg(ENDS["a"], ENDS["b"], limits)
    assert leg.detour == words


def test_weak_spot_at_a_node(tmp_path):
    sketch = block()
    sketch.node("plate", 500, 0, maxweight="3 t")
    sketch.way("South", "A plate B")
    roads = sketch.roads(tmp_path)
    assert drive(roads, "a", "b", VehicleLimits(weight_lb=9000))[2] == pytest.approx(4000, abs=1)


def test_vehicles_that_find_the_same_roads_share_the_answer(tmp_path):
    roads = block().roads(tmp_path)
    places = [place("p", 10, 0), place("q", 900, 0)]
    assert roads.travel(places, VehicleLimits(9_000, 8)) is roads.travel(places)


def test_signal_costs_once(tmp_path):
    sketch = block()
    sketch.tag_node("A", highway="traffic_signals")
    assert drive(sketch.roads(tmp_path), "a", "b")[1] == pytest.approx(
        minutes(2000, SIGNAL_S), rel=1e-3
    )
    # Two signals 100 ft apart belong to one junction.
    sketch = block()
    sketch.node("s1", 450, 0, highway="traffic_signals")
    sketch.node("s2", 550, 0, highway="traffic_signals")
    sketch.way("South", "A s1 s2 B")
    assert drive(sketch.roads(tmp_path), "a", "b")[1] == pytest.approx(
        minutes(2000, SIGNAL_S), rel=1e-3
    )


@pytest.mark.parametrize(
    ("tags", "to_b", "to_a"),
    [
        ({"direction": "forward"}, 1, 0),
        ({"direction": "backward"}, 0, 1),
        ({}, 1, 0),
    ],
)
def test_stop_sign_stands_for_one_direction(tmp_path, tags, to_b, to_a):
    # 50 ft before B on South, which is drawn from A to B.
    sketch = block()
    sketch.node("stop", 950, 0, highway="stop", **tags)
    sketch.way("South", "A stop B")
    roads = sketch.roads(tmp_path)
    assert drive(roads, "a", "b")[1] == pytest.approx(minutes(2000, STOP_S * to_b), rel=1e-3)
    assert drive(roads, "b", "a")[1] == pytest.approx(minutes(2000, STOP_S * to_a), rel=1e-3)


def test_posted_speed_by_direction(tmp_path):
    sketch = block()
    sketch.tag("South", **{"maxspeed:forward": "30 mph", "maxspeed:backward": "15 mph"})
    roads = sketch.roads(tmp_path)
    share = CLASSES["residential"].share_of_limit
    for start, end, limit in (("a", "b", 30), ("b", "a", 15)):
        expected = minutes(1000) + 1000 / 5280 / (limit * share) * 60
        assert drive(roads, start, end)[1] == pytest.approx(expected, rel=1e-3)


def test_places_on_one_edge(tmp_path):
    sketch = block()
    sketch.tag("South", oneway="yes")
    roads = sketch.roads(tmp_path)
    near, far = place("near", 300, 20), place("far", 700, -30)
    assert drive(roads, near, far)[2] == pytest.approx(400, abs=1)
    # Against the one-way it is once round the block.
    assert drive(roads, far, near)[2] == pytest.approx(4000 - 400, abs=1)
    assert drive(roads, near, place("twin", 300, -20))[1:] == (0.0, 0.0)


def test_snap_to_the_nearest_point(tmp_path):
    roads = block().roads(tmp_path)
    snap, corner = roads.snaps([place("house", 400, 130), place("corner", 1600, -80)])
    assert (snap.place_id, snap.street) == ("house", "South")
    assert snap.distance_ft == pytest.approx(130, abs=0.5)
    assert corner.street == "Stub b"
    assert corner.distance_ft == pytest.approx((100**2 + 80**2) ** 0.5, abs=0.5)


def test_nobody_stops_on_a_motorway(tmp_path):
    sketch = block()
    sketch.node("m1", -500, 200)
    sketch.node("m2", 1500, 200)
    sketch.way("Interstate", "m1 m2", highway="motorway", oneway="no")
    sketch.way("Ramp 1", "m1 a", highway="motorway_link")
    sketch.way("Ramp 2", "m2 b", highway="motorway_link")
    snap = sketch.roads(tmp_path).snaps([place("house", 500, 190)])[0]
    assert snap.street == "South"


def test_leg_shape_follows_bends(tmp_path):
    sketch = block()
    sketch.node("bend", 500, 300)
    sketch.way("South", "A bend B")
    roads = sketch.roads(tmp_path)
    start, end = place("s", 250, 150), place("e", 900, 60)
    points = roads.leg(start, end).points
    assert points[0] == (start.lat, start.lon)
    assert points[-1] == (end.lat, end.lon)
    assert any(
        p == pytest.approx((place("x", 500, 300).lat, place("x", 500, 300).lon), abs=2e-7)
        for p in points
    )
    back = roads.leg(end, start).points
    assert back == tuple(reversed(points))


def test_places_outside_are_all_named(tmp_path):
    roads = block().roads(tmp_path)
    places = [place("in", 0, 0), place("out", 90_000, 0), place("zero", -90_000, 0)]
    with pytest.raises(RoadError) as caught:
        roads.travel(places)
    assert caught.value.place_ids == ("out", "zero")


def test_dropped_roads_are_counted_and_not_snapped_to(tmp_path):
    sketch = block()
    sketch.node("i1", 5000, 0)
    sketch.node("i2", 5600, 0)
    sketch.way("Island", "i1 i2")
    sketch.node("x", 2000, 0)
    sketch.way("One way out", "b x", oneway="yes")
    roads = sketch.roads(tmp_path)
    assert roads.profile().dropped_edges == 2
    assert roads.profile().dropped_tenth_ft == pytest.approx(11_000, abs=10)
    assert roads.snaps([place("p", 5300, 0)])[0].street == "Stub b"


def test_cut_off_places_in_one_message(tmp_path):
    # A height limit that only some trucks meet leaves the customer behind it out of reach; the
    # nearest road that this truck can use is named instead by the snap.
    sketch = block()
    sketch.tag("Stub b", maxheight="9'")
    roads = sketch.roads(tmp_path)
    assert drive(roads, "a", "b", VehicleLimits(height_ft=10))[2] == pytest.approx(1500, abs=1)
