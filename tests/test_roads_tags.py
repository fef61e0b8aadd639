"""Values of tags. Spellings are those that the OpenStreetMap wiki lists for the United States
(Key:maxspeed, Key:maxheight, Key:maxweight; https://wiki.openstreetmap.org); 1 mile = 1.609344 km,
1 tonne = 2204.62 lb (NIST Special Publication 811, appendix B.8)."""

from datetime import date

import pytest

from planner.roads.limits import Held, HoursWorked, held, is_timed, length_ft, limits_of, weight_lb
from planner.roads.tags import Passage, access, directions, node_rule, speed_mph, way_rule


@pytest.mark.parametrize(
    ("text", "mph"),
    [
        ("25 mph", 25),
        ("25mph", 25),
        ("40", 24.85),
        ("50 km/h", 31.07),
        ("35 mph;45 mph", 35),
        ("signals", None),
        ("none", None),
        ("140 mph", None),
        ("0", None),
        ("", None),
    ],
)
def test_speed(text, mph):
    assert speed_mph(text) == (None if mph is None else pytest.approx(mph, abs=0.01))


@pytest.mark.parametrize(
    ("text", "feet"),
    [
        ("13'6\"", 13.5),
        ("13' 10\"", 13 + 10 / 12),
        ("13'", 13),
        ("13 ft", 13),
        ("12 ft 6 in", 12.5),
        ("4.2", 13.78),
        ("4.2 m", 13.78),
        ("default", None),
        ("", None),
        # as mappers of the world write them; Map_Features/Units of the OpenStreetMap wiki names
        # the first two
        ("16'3\"", 16.25),
        ('138"', 11.5),
        ("11'-6\"", 11.5),
        ("11\u20326\u2033", 11.5),
        ("11' 6''", 11.5),
        ("11.5 feet", 11.5),
        ("3.5 metres", 11.483),
        ("3,5 m", 11.483),
        ("350 cm", 11.483),
        ("6\"4'", None),
        ("~3", None),
        ("13.6", None),  # metres would be 45 ft: feet were meant, or not
    ],
)
def test_height(text, feet):
    assert length_ft(text) == (None if feet is None else pytest.approx(feet, abs=0.01))


@pytest.mark.parametrize(
    ("text", "pounds"),
    [
        ("7.5", 16_534.67),
        ("7.5 t", 16_534.67),
        ("10 st", 20_000),
        ("10 tons", 20_000),
        ("26,000 lbs", 26_000),
        ("26000 lb", 26_000),
        ("3500 kg", 7_716.18),
        ("unsigned", None),
        ("", None),
        ("5 tonnes", 11_023.11),
        ("10000 pounds", 10_000),
        ("7,5 t", 16_534.67),
        ("5 lt", 11_200),
        ("20 cwt", 2_240),
        ("3500", None),  # 3,500 tonnes is no sign
    ],
)
def test_weight(text, pounds):
    assert weight_lb(text) == (None if pounds is None else pytest.approx(pounds, abs=0.01))


def test_most_particular_access_decides():
    assert access({"access": "private", "vehicle": "no", "motor_vehicle": "yes"}) is Passage.OPEN
    assert access({"access": "yes", "vehicle": "no"}) is Passage.CLOSED
    assert access({"access": "a word of its own"}) is Passage.ENDS_ONLY


@pytest.mark.parametrize(
    "tags",
    [
        {"highway": "footway"},
        {"highway": "construction"},
        {"highway": "residential", "access": "no"},
        {"highway": "residential", "oneway": "reversible"},
        {"highway": "service", "area": "yes"},
        {"highway": "service", "service": "emergency_access"},
        {},
    ],
)
def test_not_for_trucks(tags):
    assert way_rule(tags) is None


@pytest.mark.parametrize(
    ("tags", "limits", "unread"),
    [
        ({"maxweight": "3 tons;5 tons"}, (None, 6000, None, None, None), ()),
        ({"maxweight:hgv": "5 st"}, (None, 10_000, None, None, None), ()),
        ({"maxweight:conditional": "5 st @ (hgv)"}, (None, 10_000, None, None, None), ()),
        ({"maxheight:conditional": "11' @ (07:00-19:00)"}, (11, None, None, None, None), ()),
        ({"maxheight:conditional": "11' @ (22:00-04:30)"}, (None,) * 5, ()),
        ({"maxweight:conditional": "5 st @ (Sa-Su)"}, (None, 10_000, None, None, None), ()),
        ({"maxweight:conditional": "5 st @ (Nov-Mar)"}, (None, 10_000, None, None, None), ()),
        ({"maxweight:conditional": "5 st @ (weight>7.5)"}, (None,) * 5, ()),
        ({"maxheight": "6\"4'"}, (None,) * 5, ("maxheight=6\"4'",)),
        ({"maxheight": "below_default"}, (None,) * 5, ("maxheight=below_default",)),
        ({"maxheight": "default"}, (None,) * 5, ()),
        ({"maxheight": "12'", "maxheight:physical": "11'"}, (11, None, None, None, None), ()),
        ({"maxaxleload": "9 st"}, (None, None, 18_000, None, None), ()),
        ({"maxlength": "30 ft", "maxwidth": "7'6\""}, (None, None, None, 30, 7.5), ()),
    ],
)
def test_limits_of_a_way(tags, limits, unread):
    """Key:maxheight, Key:maxweight, Key:maxaxleload and Conditional_restrictions of the
    OpenStreetMap wiki."""
    assert limits_of(tags) == (pytest.approx(limits), unread)


@pytest.mark.parametrize(
    ("tags", "timed"),
    [
        ({"motor_vehicle:conditional": "no @ (07:00-19:00)"}, False),
        ({"motor_vehicle:conditional": "no @ (stay > 2 h)"}, True),
        ({"oneway:conditional": "yes @ (07:00-09:00)"}, True),
        ({"maxweight:conditional": "3.5 @ (22:00-06:00); 5 st @ hgv"}, False),
        ({"maxweight:conditional": "5 st @ (hgv)"}, False),
        ({"parking:lane:conditional": "no @ (Mo 08:00-10:00)"}, False),
    ],
)
def test_rules_of_some_hours_are_noticed(tags, timed):
    assert is_timed(tags) is timed


@pytest.mark.parametrize(
    ("tags", "both"),
    [
        ({"vehicle:forward": "no"}, (False, True)),
        ({"motor_vehicle:forward": "no"}, (False, True)),
        ({"access:backward": "no"}, (True, False)),
        ({"vehicle:forward": "no", "motor_vehicle:forward": "yes"}, (True, True)),
        ({"oneway": "yes", "oneway:vehicle": "no"}, (True, True)),
        ({"oneway:bicycle": "yes"}, (True, True)),
    ],
)
def test_directions_by_vehicle(tags, both):
    """Key:access, 'Transport mode and direction', of the OpenStreetMap wiki."""
    assert directions(tags) == both


def test_a_street_for_people_on_foot_lets_in_whom_its_tags_name():
    """Tag:highway=pedestrian of the OpenStreetMap wiki."""
    walk = {"highway": "pedestrian"}
    assert way_rule(walk) is None
    assert way_rule({**walk, "access": "yes"}) is None
    assert way_rule({**walk, "motor_vehicle": "no"}) is None
    for value in ("yes", "destination"):
        rule = way_rule({**walk, "motor_vehicle": value})
        assert rule is not None
        assert rule.ends_only


def test_a_beam_without_a_figure_is_named():
    beam = {"barrier": "height_restrictor"}
    assert node_rule({**beam, "height": "2.1"}).limits[0] == pytest.approx(6.89, abs=0.01)
    assert node_rule(beam).unread == ("maxheight=not told",)


@pytest.mark.parametrize(
    ("tags", "passage"),
    [
        ({"motor_vehicle:conditional": "no @ (07:00-19:00)"}, Passage.ENDS_ONLY),
        ({"access:conditional": "no @ (Mo-Fr 07:30-09:00,14:00-15:30)"}, Passage.ENDS_ONLY),
        ({"access:conditional": "no @ (22:00-04:30)"}, Passage.OPEN),
        ({"access:conditional": "no @ (20:00-04:30)"}, Passage.ENDS_ONLY),
        ({"access:conditional": "private @ (Su)"}, Passage.OPEN),
        ({"access": "no", "access:conditional": "yes @ (07:00-19:00)"}, Passage.CLOSED),
    ],
)
def test_what_is_closed_for_some_hours_is_no_short_cut_all_day(tags, passage):
    """Conditional_restrictions of the OpenStreetMap wiki; 5 AM to 9 PM are worked."""
    assert access(tags) is passage


def test_a_truck_sign_of_some_hours_counts_all_day():
    way = {"highway": "residential"}
    assert way_rule({**way, "hgv:conditional": "no @ (07:00-19:00)"}).truck_sign
    assert not way_rule({**way, "hgv:conditional": "no @ (22:00-04:00)"}).truck_sign


@pytest.mark.parametrize(
    ("condition", "how"),
    [
        ("(Mo-Fr 07:00-09:00)", Held.PARTLY),
        ("(Mo-Fr 06:00-20:00)", Held.ALWAYS),
        ("(Sa-Su)", Held.NEVER),
        ("(Mo,Th)", Held.NEVER),
        ("(Fr-Tu)", Held.NEVER),
        ("(We)", Held.ALWAYS),
        ("(22:00-06:30)", Held.NEVER),
        ("(22:00-07:30)", Held.PARTLY),
        ("(Tu 22:00-07:30)", Held.PARTLY),  # of the evening before
        ("(We 22:00-07:30)", Held.NEVER),
        ("(Nov-Mar)", Held.NEVER),
        ("(Nov 15-Apr 14)", Held.ALWAYS),
        ("(Apr 15-30)", Held.NEVER),
        ("(Apr; Nov)", Held.ALWAYS),
        ("(Mar-May Sa 08:00-12:00)", Held.NEVER),
        ("(Mar-May We 08:00-12:00)", Held.PARTLY),
        ("(Sa 08:00-12:00; We 18:00-20:00)", Held.NEVER),
        ("(Sa,PH)", Held.ALWAYS),  # nobody says which days are holidays
        ("(Mo-Fr 07:00-09:00; PH off)", Held.PARTLY),
        ("(weight>7.5 AND Sa)", Held.NEVER),
        ("(weight>7.5 AND We)", Held.PARTLY),
        ("(hgv AND Sa-Su)", Held.NEVER),
        ("(sunset-sunrise)", Held.PARTLY),
        ("(2027 Apr 20-2027 May 2)", Held.PARTLY),  # written otherwise: it may hold
        ("(every second Monday)", None),
        ("hgv", Held.ALWAYS),
    ],
)
def test_conditions_on_a_wednesday_in_april(condition, how):
    """Conditional_restrictions and Key:opening_hours of the OpenStreetMap wiki; trucks are out from
    7 AM to 6 PM."""
    assert held(condition, HoursWorked(date(2027, 4, 14), 420, 1080)) is how
