"""Values of tags. Spellings are those that the OpenStreetMap wiki lists for the United States
(Key:maxspeed, Key:maxheight, Key:maxweight; https://wiki.openstreetmap.org); 1 mile = 1.609344 km,
1 tonne = 2204.62 lb (NIST Special Publication 811, appendix B.8)."""

import pytest

from planner.roads.tags import Passage, access, height_ft, speed_mph, way_rule, weight_lb


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
    ],
)
def test_height(text, feet):
    assert height_ft(text) == (None if feet is None else pytest.approx(feet, abs=0.01))


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
