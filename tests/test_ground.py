"""Ground, soil, bloom, hives, inversion hours and wind (rule 37).

Outside the project: the sections in planner/rules/fertilizer.csv (column ground); sunrise by the
equation of time and declination of Spencer (1971), Search 2(5):172, written out here (from memory).
"""

from __future__ import annotations

import math
import random
from dataclasses import replace
from datetime import date

import pytest

from planner.compliance.ground import blows_toward, ground_cautions
from planner.compliance.holds import holds
from planner.compliance.sun import sun_minutes
from planner.day.clock import DateSpan
from planner.day.day import Day, day_of
from planner.day.orders import GroundDay, WeatherHour
from planner.papers.packet import packet_pages
from planner.plan.audit.rules_held_words import check_held_words
from planner.plan.audit.rules_holds import Holds
from planner.plan.audit.strength import strength
from planner.plan.audit.weather import openings
from planner.plan.model import NotDone, Plan
from tests import days
from tests.audit_holds import audited_codes
from tests.codes import HOLD_CODES
from tests.random_plans import plan_random

BLOOM = (DateSpan(date(2027, 4, 10), date(2027, 4, 20)),)


def ground_day(
    *state: str,
    soil: float | None = None,
    area: str = "",
    product: dict[str, object] | None = None,
    time_zone: str | None = None,
    weather: tuple[WeatherHour, ...] = (),
    **place: object,
) -> Day:
    """One order on one lawn, with a row of ground in that area."""
    home = days.home("P1", 40.0, -83.0, 8_000.0, **place)
    one = days.product("p", "g", "3 fl oz/1000 sq ft", **(product or {}))
    book = days.workbook(
        settings=days.settings(time_zone=time_zone),
        products=(one,),
        mixes=(days.mix("MIX", 2.0, p="1.5 fl oz/1000 sq ft"),),
        properties=(home,),
        orders=(days.order("O1", home, "MIX"),),
        weather=weather,
        ground=(GroundDay(days.DAY, area, state, soil),),
    )
    return day_of(book, days.DAY)


def codes(day: Day) -> list[str]:
    """What holds the order; the audit must say the same, and that the words are true."""
    found = holds(day)
    assert audited_codes(day, found) == []
    strengths = {name: strength(day.workbook, mix) for name, mix in day.workbook.mixes.items()}
    held = tuple(NotDone(one.order_id, one.code, one.reason) for one in found)
    plan = replace_plan(held)
    assert [
        str(v) for v in check_held_words(plan.held, day, Holds(day, strengths, openings(day)))
    ] == []
    return [hold.code for hold in found]


def replace_plan(held: tuple[NotDone, ...]) -> Plan:
    return replace(plan_random(days.small_day()), held=held)


FEED = {"nitrogen_percent": 20.0, "slow_nitrogen_percent": 50.0}


@pytest.mark.parametrize(
    ("state", "ground", "feed", "held"),
    [
        ("NJ", "frozen", True, True),
        ("NJ", "saturated", True, True),
        ("NJ", "snow", True, False),
        ("NJ", "frozen", False, False),
        ("MD", "frozen", True, True),
        ("MD", "saturated", True, False),
        ("PA", "snow", True, True),
        ("WI", "frozen", True, True),
        ("MI", "saturated", True, True),
        ("IL", "saturated", True, True),
        ("MA", "snow", True, True),
        ("OH", "frozen", True, False),
        ("PA", "dormant", True, False),
    ],
)
def test_state_rules_on_the_ground(state: str, ground: str, feed: bool, held: bool) -> None:
    """The rows' own words: NJSA 58:10A-62, AG 8-803.5(c), 3 Pa.C.S. 6813(b)(2), Wis. Stat.
    94.643(2)(c), MCL 324.8512b, 415 ILCS 65/5a(a)(2), 330 CMR 31.05(4)."""
    day = ground_day(ground, state=state, product=FEED if feed else {})
    assert ("LAW-GROUND" in codes(day)) == held


def test_the_row_of_the_area_goes_before_the_row_for_everywhere() -> None:
    day = ground_day("frozen", area="north", state="WI", product=FEED, weather_area="north")
    thawed = (GroundDay(days.DAY, "", (), None), *day.workbook.ground)
    assert codes(replace(day, workbook=replace(day.workbook, ground=thawed))) == ["LAW-GROUND"]
    south = ground_day("frozen", area="north", state="WI", product=FEED, weather_area="south")
    assert codes(south) == []


def test_soil_and_bloom() -> None:
    assert codes(ground_day(soil=49.0, product={"soil_temperature_least_f": 50.0})) == ["SOIL"]
    assert codes(ground_day(soil=50.0, product={"soil_temperature_least_f": 50.0})) == []
    assert codes(ground_day(product={"soil_temperature_least_f": 50.0})) == []
    assert codes(ground_day(product={"not_in_bloom": True}, bloom=BLOOM)) == ["BLOOM"]
    assert codes(ground_day(bloom=BLOOM)) == []
    flowering = ground_day(product={"not_in_bloom": True}, bloom=BLOOM)
    assert "is in bloom until Tue 2027-04-20, and the label of " in holds(flowering)[0].reason
    (row,) = holds(flowering)
    false = NotDone(row.order_id, row.code, row.reason.replace("04-20", "04-19"))
    book = flowering.workbook
    known = {name: strength(book, mix) for name, mix in book.mixes.items()}
    checks = Holds(flowering, known, openings(flowering))
    assert list(check_held_words((false,), flowering, checks))
    assert {"LAW-GROUND", "SOIL", "BLOOM"} <= HOLD_CODES.keys()


def test_1000_random_days_planner_and_audit_agree() -> None:
    rng = random.Random(37)
    held = 0
    for _ in range(1_000):
        day = ground_day(
            *rng.sample(("frozen", "saturated", "snow", "frost", "dormant"), rng.randrange(3)),
            soil=rng.choice((None, 40.0, 49.9, 50.0)),
            area=rng.choice(("", "a", "b")),
            product={
                "nitrogen_percent": rng.choice((0.0, 10.0)),
                "slow_nitrogen_percent": 60.0,
                "soil_temperature_least_f": rng.choice((None, 50.0)),
                "not_in_bloom": rng.random() < 0.5,
            },
            state=rng.choice(("NJ", "MD", "PA", "WI", "OH", "IL", "MA", "MI")),
            weather_area=rng.choice(("", "a")),
            bloom=rng.choice(((), BLOOM)),
        )
        found = holds(day)
        held += bool(found)
        assert audited_codes(day, found) == []
    assert 300 < held < 900


def plain_sunrise(lat: float, lon: float, when: date, utc_hours: float) -> tuple[float, float]:
    """Spencer's series; the sun's upper edge with refraction at -0.833 degrees."""
    g = 2 * math.pi * (when.timetuple().tm_yday - 1) / 365
    equation = 229.18 * (
        0.000075
        + 0.001868 * math.cos(g)
        - 0.032077 * math.sin(g)
        - 0.014615 * math.cos(2 * g)
        - 0.040849 * math.sin(2 * g)
    )
    tilt = (
        0.006918
        - 0.399912 * math.cos(g)
        + 0.070257 * math.sin(g)
        - 0.006758 * math.cos(2 * g)
        + 0.000907 * math.sin(2 * g)
    )
    up = math.cos(math.radians(90.833)) / (math.cos(math.radians(lat)) * math.cos(tilt))
    half = math.degrees(math.acos(up - math.tan(math.radians(lat)) * math.tan(tilt)))
    noon = 720 - 4 * lon - equation + utc_hours * 60
    return noon - 4 * half, noon + 4 * half


@pytest.mark.parametrize(
    ("lat", "lon", "when", "zone", "utc_hours"),
    [
        (40.0, -83.0, date(2027, 4, 14), "Eastern", -4),
        (40.0, -83.0, date(2027, 12, 1), "Eastern", -5),
        (33.4, -112.0, date(2027, 7, 1), "Arizona", -7),
        (43.1, -89.4, date(2027, 3, 10), "Central", -6),
    ],
)
def test_sunrise_and_sunset(
    lat: float, lon: float, when: date, zone: str, utc_hours: float
) -> None:
    assert sun_minutes(lat, lon, when, zone) == pytest.approx(
        plain_sunrise(lat, lon, when, utc_hours), abs=4
    )


def said(day: Day, begin_min: float = 600.0) -> str:
    return "; ".join(ground_cautions(day, day.orders["O1"], begin_min, begin_min + 20))


def test_cautions_say_why() -> None:
    # Sunrise in central Ohio on April 14 is near 6:56 AM, sunset near 8:07 PM on that clock.
    day = ground_day("frost", "dormant", time_zone="Eastern", hives_ft=300.0)
    assert "Frost: stay off" in said(day)
    assert "Dormant" in said(day)
    assert "Hives 300 ft away" in said(day)
    assert "Inversion hours until 7:5" in said(day, 450)
    assert "Inversion" not in said(day, 600)
    assert "Inversion hours from 6:0" in said(day, 1090)
    assert "Inversion" not in said(ground_day(), 450)
    hot = WeatherHour(days.DAY, 10, "", 5.0, None, 88.0, 0.0, 0.0, "SW")
    assert "85 F or more" in said(ground_day(weather=(hot,)))
    assert "85 F or more" not in said(
        ground_day(weather=(hot,), product={"temperature_most_f": 90.0})
    )
    assert "Wind from SW blows toward the NE side" in said(
        ground_day(weather=(hot,), sensitive_side="NE")
    )
    assert said(ground_day(weather=(replace(hot, temperature_f=60.0),), sensitive_side="SW")) == ""


def test_wind_toward_a_side() -> None:
    assert blows_toward("W", "E")
    assert blows_toward("N", "SSE")
    assert blows_toward("NNE", "S")
    assert not blows_toward("N", "E")
    assert not blows_toward("calm", "E")


def test_the_route_sheet_says_what_stops_share_once() -> None:
    book = days.small_day().workbook
    frosty = replace(book, ground=(GroundDay(days.DAY, "", ("frost",), None),))
    homes = {
        name: replace(home, hives_ft=120.0 if name == "P1" else None)
        for name, home in frosty.properties.items()
    }
    day = day_of(replace(frosty, properties=homes), days.DAY)
    plan = plan_random(day)
    trucks = sum(any(stop.kind == "visit" for stop in truck.stops) for truck in plan.trucks)
    page = packet_pages(plan, day, {}, "", "0")["packets.html"]
    assert page.count("Frost: stay off the lawn") == trucks, "once for all stops of a truck"
    assert page.count("Hives 120 ft away") == 1, "at its stop"
