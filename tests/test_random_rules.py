"""300 random cases of labels, orders, states and weather: the planner, its audit and a second,
plainly written checker (tests/plain_rules.py) must agree in each."""

from __future__ import annotations

import random
import shutil
from collections import Counter
from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from planner.compliance.holds import holds, order_windows
from planner.compliance.label_checks import label_problems
from planner.day.clock import Window
from planner.day.day import Day, FertilizerRule, day_of
from planner.day.orders import PastApplication, WeatherHour
from planner.day.products import Form, Mix, MixPart, Product
from planner.tables.read import read_workbook
from planner.units import parse_amount, parse_rate
from tests import days
from tests.audit_holds import audited_codes
from tests.bad_workbooks import BASE
from tests.plain_rules import PlainDay, open_quarters, plain_label_codes

CASES = range(300)
INGREDIENTS = ("2,4-D", "dicamba", "MCPP", "2,4-D + dicamba", "")
GRASSES = ("tall fescue", "St. Augustine", "bermuda", "bluegrass / tall fescue", "bahiagrass", "")
LABELS = {"LABEL-1", "LABEL-3", "LABEL-4", "LABEL-6", "LABEL-7"}
STATES = ("NY", "NJ", "MD", "PA", "FL", "MN", "OH", "")


def maybe(rng: random.Random, share: float, *values: object) -> object:
    return rng.choice(values) if rng.random() < share else None


def herbicide(rng: random.Random, name: str) -> Product:
    basis = rng.choice(("ai", "ai", "ae"))
    limits = {
        "active_ingredient": rng.choice(INGREDIENTS),
        "ai_lb_per_gal": rng.choice((2.0, 3.8, 4.0)),
        "ai_percent": maybe(rng, 0.5, 38.0, 46.0),
        "ai_basis": basis,
        "density_lb_per_gal": maybe(rng, 0.7, 8.9, 9.6),
        "least_days_between": maybe(rng, 0.4, 14, 28),
        "most_per_year": maybe(rng, 0.4, 1, 2, 3),
        "annual_most": maybe(
            rng,
            0.6,
            *(parse_rate(f"{most} lb {basis}/A") for most in (1.2, 2.0, 3.0)),
            parse_rate("4 fl oz/1000 sq ft"),
            parse_rate("9 pt/A"),
        ),
        "not_on_grass": maybe(rng, 0.3, ("St. Augustine",), ("Bermuda", "bluegrass")) or (),
        "water_distance_ft": maybe(rng, 0.3, 10.0, 25.0),
        "stand_days_least": maybe(rng, 0.3, 30, 60),
        "wind_least_mph": maybe(rng, 0.3, 2.0, 3.0),
        "wind_most_mph": maybe(rng, 0.6, 8.0, 10.0, 15.0),
        "temperature_least_f": maybe(rng, 0.2, 45.0, 50.0),
        "temperature_most_f": maybe(rng, 0.4, 80.0, 85.0),
        "rain_free_hours": maybe(rng, 0.4, 0.5, 2.0, 6.0, 24.0),
        "carrier_least_gal_per_1000_ft2": maybe(rng, 0.2, 1.5, 2.0),
        "carrier_most_gal_per_1000_ft2": maybe(rng, 0.2, 2.0, 3.0),
        "not_with": maybe(rng, 0.2, ("fertilizer",), ("h1",)) or (),
    }
    most = rng.choice(("1.5 fl oz/1000 sq ft", "4 pt/A", f"1.5 lb {basis}/A", "1 % v/v"))
    return replace(days.product(name, "broadleaf", most), **limits)


def feed(rng: random.Random, name: str) -> Product:
    dry = rng.random() < 0.6
    changes = {
        "form": Form.DRY if dry else Form.LIQUID,
        "formulation": "FERT",
        "registration_no": "",
        "density_lb_per_gal": None if dry or rng.random() < 0.15 else 10.65,
        "nitrogen_percent": rng.choice((28.0, 46.0, 20.0)),
        "slow_nitrogen_percent": rng.choice((0.0, 0.0, 15.0, 30.0, 50.0, 65.0, 80.0)),
        "phosphate_percent": rng.choice((0.0, 0.0, 0.5, 5.0, 20.0)),
        "enhanced_efficiency": rng.random() < 0.3,
        "annual_most": maybe(rng, 0.3, parse_rate("3 lb N/1000 sq ft"), parse_rate("150 lb N/A")),
        "not_with": maybe(rng, 0.1, ("broadleaf",)) or (),
    }
    most = "12 lb/1000 sq ft" if dry else "2 gal/1000 sq ft"
    return replace(days.product(name, "fertilizer", most), **changes)


def rate_of(rng: random.Random, product: Product) -> str:
    if product.group != "fertilizer":
        return rng.choice(
            (
                f"{rng.choice((0.8, 1.1, 1.5, 1.6))} fl oz/1000 sq ft",
                f"{rng.choice((2, 3, 4, 4.3))} pt/A",
                f"{rng.choice((0.5, 1.0, 1.5))} lb {product.ai_basis}/A",
                f"{rng.choice((0.4, 0.8, 1.2))} % v/v",
            )
        )
    if product.form is Form.DRY:
        return f"{rng.choice((0.2, 0.4, 0.5, 0.7, 0.8, 0.9, 1.2, 1.9))} lb N/1000 sq ft"
    return f"{rng.choice((0.08, 0.12, 0.2, 0.4))} gal/1000 sq ft"


def forecast(rng: random.Random, when: date) -> tuple[WeatherHour, ...]:
    if rng.random() < 0.15:
        return ()
    rows = []
    for area in ("", "hill") if rng.random() < 0.3 else ("",):
        windy_from, wet_at = rng.randint(6, 26), rng.randint(0, 80)
        for at in range(rng.choice((24, 48))):
            if rng.random() < 0.05:
                continue
            wind = float(rng.randint(1, 9) + (8 if at % 24 >= windy_from else 0))
            rain = abs(at - wet_at) <= 1
            rows.append(
                WeatherHour(
                    when + timedelta(days=at // 24),
                    at % 24,
                    area,
                    wind,
                    rng.choice((None, wind + 4)),
                    float(rng.randint(42, 90)),
                    rng.choice((49.0, 50.0, 80.0)) if rain else 10.0,
                    rng.choice((0.0, 0.1)) if rain else 0.0,
                )
            )
    return tuple(rows)


LOCAL = """rule,county,town,kind,words,section,read,basis,figure,first,last,test_years
summer,Marion County,,closed season,,Sec. 1,2027-01-05,,,Jun 1,Aug 31,
spring,marion,,most per application,,Sec. 2,2027-01-05,total N,0.6,Mar 1,May 31,
bank,,Mill Town,setback,,Sec. 3,2027-01-05,N or P,30,,,
bare,,Mill Town,phosphorus ban,none without a soil test,Sec. 4,2027-01-05,,1,,,3
"""
"""What PlainDay spells out as a county's and a town's rules."""


@cache
def local_rules() -> tuple[FertilizerRule, ...]:
    """The local rules as they are read from a workbook."""
    with TemporaryDirectory() as folder:
        book = Path(folder) / "book"
        shutil.copytree(BASE, book)
        (book / "local_rules.csv").write_text(LOCAL)
        reading = read_workbook(book)
    assert reading.workbook is not None
    assert reading.problems == ()
    return reading.workbook.local_fertilizer_rules


def random_case(seed: int) -> Day:
    """One to three orders on one lawn, of two to four products."""
    rng = random.Random(seed)
    when = date(2027, 1, 1) + timedelta(days=rng.randrange(365))
    products = [herbicide(rng, f"h{n}") for n in range(rng.randint(1, 3))]
    products += [feed(rng, f"f{n}") for n in range(rng.randint(1, 2))]
    mixes = []
    for number in range(3):
        parts = rng.sample(products, rng.randint(1, min(3, len(products))))
        mixes.append(
            Mix(
                f"M{number}",
                f"Mix {number}",
                rng.choice((1.0, 2.0, 3.0)),
                False,
                "",
                tuple(MixPart(p.product_id, parse_rate(rate_of(rng, p)), "") for p in parts),
            )
        )
    home = days.home(
        "P1",
        40,
        -83,
        5000.0,
        state=rng.choice(STATES),
        county=rng.choice(("", "Marion")),
        town=("", "Mill Town")[seed % 2],
        grass=rng.choice(GRASSES),
        weather_area=rng.choice(("", "hill")),
        water_distance_ft=maybe(rng, 0.4, 12.0, 18.0, 22.0, 40.0),
        grass_since=maybe(rng, 0.3, *(when - timedelta(days=d) for d in (-2, 29, 45, 364, 365))),
        phosphorus_test=maybe(rng, 0.3, *(when - timedelta(days=d) for d in (-1, 90, 1094, 1095))),
    )
    orders = []
    for number in range(rng.randint(1, 3)):
        start = 60.0 * rng.randint(7, 14)
        windows = (Window(start, start + 90.0), Window(start + 150.0, start + 195.0))
        orders.append(
            days.order(
                f"O{number}",
                home,
                f"M{number}",
                due_from=when,
                due_to=when,
                windows=rng.choice((None, windows[:1], windows)),
                priority=rng.choice((1, 2, 2, 3)),
                area_ft2=rng.choice((5000.0, 2500.0, 2000.0)),
            )
        )
    history = []
    for _ in range(rng.randint(0, 4)):
        one = rng.choice(products)
        dry = one.form is Form.DRY
        amount = rng.choice(("4 lb", "9 lb")) if dry else rng.choice(("6 fl oz", "3 pt", "2 lb"))
        day = when - timedelta(days=rng.choice((0, 5, 13, 14, 27, 28, 60, 200, -3)))
        history.append(PastApplication("P1", one.product_id, day, 4000.0, parse_amount(amount)))
    book = days.workbook(
        sites=(),
        trucks=(),
        products=tuple(products),
        mixes=tuple(mixes),
        properties=(home,),
        orders=tuple(orders),
        weather=forecast(rng, when),
        history=tuple(history),
        settings=days.settings(state=rng.choice(("", "PA"))),
    )
    state = home.state or book.settings.state
    rules = tuple(replace(rule, state=state) for rule in local_rules())
    return day_of(replace(book, local_fertilizer_rules=rules), when)


@pytest.mark.parametrize("first", CASES[::20])
def test_three_checkers_agree(first: int) -> None:
    for seed in CASES[first : first + 20]:
        checkers_agree(random_case(seed))


def checkers_agree(day: Day) -> None:
    plain = PlainDay(day)
    found = {hold.order_id: hold for hold in holds(day)}
    assert set(found) == {order_id for order_id, codes in plain.codes.items() if codes}
    for order_id, hold in found.items():
        assert hold.code in plain.codes[order_id], hold
        assert hold.reason.count("; ") + 1 >= len(plain.codes[order_id]), hold
    assert audited_codes(day, tuple(found.values())) == []
    for order in day.orders.values():
        windows = order_windows(day, order)
        ours = {
            quarter
            for quarter in range(96)
            if windows is None
            or any(one.open_min <= quarter * 15 < one.close_min for one in windows)
        }
        assert ours == open_quarters(day, order)


@pytest.mark.parametrize("first", CASES[::20])
def test_two_readers_of_labels_agree(first: int) -> None:
    for seed in CASES[first : first + 20]:
        day = random_case(seed)
        assert Counter(problem.code for problem in label_problems(day.workbook)) == Counter(
            code for code, _, _ in plain_label_codes(day)
        ), seed


def test_the_cases_hold_every_kind_of_hold() -> None:
    """Else agreement would say little."""
    held: Counter[str] = Counter()
    labels: Counter[str] = Counter()
    free = 0
    for seed in CASES:
        day = random_case(seed)
        for codes in PlainDay(day).codes.values():
            held.update(codes)
            free += not codes
        labels.update(code for code, _, _ in plain_label_codes(day))
        if len(held) == 14 and min(held.values()) >= 3 and free >= 40 and set(labels) == LABELS:
            return
    pytest.fail(f"{held}, {free} free, {labels}")
