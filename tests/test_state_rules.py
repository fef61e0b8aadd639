"""State turf-fertilizer rules on orders; every case worked by hand from the row it names.

Sources stand in planner/rules/fertilizer.csv, row by row. The plan's audit must agree in each case.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from planner.compliance.duties import duties
from planner.compliance.holds import Hold, holds
from planner.compliance.state_rules import state_cautions
from planner.day.day import Day, day_of
from planner.day.orders import PastApplication
from planner.day.places import Property
from planner.day.products import Form, Mix, Product
from planner.units import parse_amount, parse_rate
from tests import days
from tests.audit_holds import audited_codes


def fertilizer(
    name: str, n: float, slow: float = 0.0, p: float = 0.0, **changes: object
) -> Product:
    product = days.product(
        name,
        "fertilizer",
        "9 lb/1000 sq ft",
        form=Form.DRY,
        formulation="FERT",
        density_lb_per_gal=None,
        nitrogen_percent=n,
        slow_nitrogen_percent=slow,
        phosphate_percent=p,
    )
    return replace(product, **changes)  # type: ignore[arg-type]


PRODUCTS = {
    product.product_id: product
    for product in (
        fertilizer("quick", 50),
        fertilizer("half", 50, slow=50),
        fertilizer("most", 50, slow=80),
        fertilizer("coated", 50, slow=80, enhanced_efficiency=True),
        fertilizer("starter", 20, slow=50, p=20),
        fertilizer("trace", 20, slow=50, p=0.6),
        fertilizer("organic", 5, slow=80, p=5, enhanced_efficiency=True),
        days.product("weedout", "broadleaf", "2 fl oz/1000 sq ft"),
    )
}


def day(
    state: str,
    when: date,
    *mixes: tuple[str, str],
    past: tuple[tuple[str, int, str], ...] = (),
    areas: tuple[float, ...] = (),
    products: dict[str, Product] | None = None,
    **home_changes: object,
) -> Day:
    """Orders O1, O2 ... of one product each (product, rate) on one lawn of 5,000 ft2; past: what
    was put on the whole lawn so many days ago."""
    home: Property = days.home("P1", 40, -83, 5000.0, state=state, **home_changes)
    made: list[Mix] = []
    orders = []
    for number, (product_id, rate) in enumerate(mixes, start=1):
        made.append(days.mix(f"M{number}", 2.0, **{product_id: rate}))
        area = areas[number - 1] if areas else 5000.0
        orders.append(
            days.order(f"O{number}", home, f"M{number}", due_from=when, due_to=when, area_ft2=area)
        )
    known = products or PRODUCTS
    book = days.workbook(
        sites=(),
        trucks=(),
        products=tuple(known.values()),
        mixes=tuple(made),
        properties=(home,),
        orders=tuple(orders),
        history=tuple(
            PastApplication("P1", name, when - timedelta(days=ago), 5000.0, parse_amount(amount))
            for name, ago, amount in past
        ),
    )
    return day_of(book, when)


def codes(case: Day) -> list[str]:
    found = holds(case)
    assert audited_codes(case, found) == [], "the audit sees it otherwise"
    return [hold.code for hold in found]


SPRING = date(2027, 5, 4)


@pytest.mark.parametrize(
    ("state", "when", "held"),
    [
        # S01 ECL 17-2103(3)(a); wraps the new year, both ends closed.
        ("NY", date(2027, 11, 30), False),
        ("NY", date(2027, 12, 1), True),
        ("NY", date(2028, 2, 29), True),
        ("NY", date(2027, 4, 1), True),
        ("NY", date(2027, 4, 2), False),
        # S04 NJSA 58:10A-62: professionals after Dec 1 and before Mar 1.
        ("NJ", date(2027, 12, 1), False),
        ("NJ", date(2027, 12, 2), True),
        ("NJ", date(2028, 2, 29), True),
        ("NJ", date(2027, 3, 1), False),
        # S09 AG 8-803.5.
        ("MD", date(2027, 12, 2), True),
        ("MD", date(2027, 3, 1), False),
        ("OH", date(2027, 1, 10), False),
        # 10 V.S.A. 1266b as the state's agency summarizes it; 330 CMR 31.05(4) as summarized.
        ("VT", date(2027, 10, 15), False),
        ("VT", date(2027, 10, 16), True),
        ("VT", date(2028, 4, 1), False),
        ("MA", date(2027, 11, 30), False),
        ("MA", date(2027, 12, 1), True),
    ],
)
def test_closed_seasons(state: str, when: date, held: bool) -> None:
    assert codes(day(state, when, ("half", "0.4 lb N/1000 sq ft"))) == ["LAW-SEASON"] * held
    assert codes(day(state, when, ("weedout", "1 fl oz/1000 sq ft"))) == []


@pytest.mark.parametrize(
    ("state", "when", "rate", "held"),
    [
        # S11 3 Pa.C.S. 6813(b): over 0.5 lb N is barred after Dec 15 and before Mar 1.
        ("PA", date(2027, 12, 15), "0.6", False),
        ("PA", date(2027, 12, 16), "0.6", True),
        ("PA", date(2027, 12, 16), "0.5", False),
        ("PA", date(2028, 2, 29), "0.6", True),
        # Maryland's half pound for professionals from Nov 16 to Dec 1.
        ("MD", date(2027, 11, 15), "0.6", False),
        ("MD", date(2027, 11, 16), "0.6", True),
        ("MD", date(2027, 12, 1), "0.5", False),
    ],
)
def test_seasons_that_close_above_a_figure(state: str, when: date, rate: str, held: bool) -> None:
    assert codes(day(state, when, ("quick", f"{rate} lb N/1000 sq ft"))) == ["LAW-SEASON"] * held


@pytest.mark.parametrize(
    ("state", "product", "rate", "expected"),
    [
        # S10 3 Pa.C.S. 6813(a): 0.9 lb total, 0.7 lb readily available.
        ("PA", "quick", "0.7", []),
        ("PA", "quick", "0.71", ["LAW-VISIT"]),
        ("PA", "half", "0.9", []),
        ("PA", "half", "1.0", ["LAW-VISIT"]),
        ("PA", "coated", "1.5", []),
        # S07 AG 6-224(a); F28: half of 1.0 lb is readily available, which passes 0.7 and not 0.9.
        ("MD", "half", "0.9", []),
        ("MD", "half", "1.0", ["LAW-VISIT"]),
        ("MD", "coated", "2.5", []),
        # S08 AG 6-224(b).
        ("MD", "coated", "2.6", ["LAW-YEAR"]),
        # S12 and S14: 1.0 lb; 2.0 lb in spring with at least 65 % slow; 0.7 lb soluble.
        ("FL", "half", "1.0", []),
        ("FL", "half", "1.1", ["LAW-VISIT"]),
        ("FL", "most", "2.0", []),
        ("FL", "most", "2.1", ["LAW-VISIT"]),
        ("FL", "quick", "0.8", ["LAW-VISIT"]),
        # S06: 1.0 lb by a summary; of it 0.7 soluble, from memory.
        ("NJ", "half", "1.0", []),
        ("NJ", "half", "1.1", ["LAW-VISIT"]),
        ("NY", "quick", "2.0", []),
        ("", "quick", "2.0", []),
    ],
)
def test_nitrogen_at_once(state: str, product: str, rate: str, expected: list[str]) -> None:
    assert codes(day(state, SPRING, (product, f"{rate} lb N/1000 sq ft"))) == expected


def test_the_slow_release_exception_has_its_season() -> None:
    case = day("FL", date(2027, 10, 4), ("most", "2.0 lb N/1000 sq ft"))
    assert codes(case) == ["LAW-VISIT"]


def test_slow_share_counts_above_the_soluble_cap() -> None:
    # 0.8 lb with 15 % slow: 0.68 lb soluble passes the cap of 0.7, the share of 20 % does not.
    products = {"slowish": fertilizer("slowish", 50, slow=15)}
    case = day("MD", SPRING, ("slowish", "0.8 lb N/1000 sq ft"), products=products)
    assert holds(case)[0].reason == (
        "Maryland asks for 20 % slow-release nitrogen; of 0.8 lb per 1,000 sq ft 15 % is "
        "(AG 6-224(a))"
    )
    assert codes(case) == ["LAW-SLOW"]
    assert codes(day("MD", SPRING, ("slowish", "0.7 lb N/1000 sq ft"), products=products)) == []


def test_all_mixes_of_a_visit_count_together() -> None:
    # 0.5 + 0.5 lb: more than 0.9 and than 0.7 soluble; the second order is held.
    two = (("quick", "0.5 lb N/1000 sq ft"), ("half", "0.5 lb N/1000 sq ft"))
    assert holds(day("PA", SPRING, *two)) == (
        Hold(
            "O2",
            "LAW-VISIT",
            "Pennsylvania allows 0.7 lb of readily available nitrogen per 1,000 sq ft in one "
            "application; 0.5 in order O1 + 0.25 now = 0.75 lb (3 Pa.C.S. 6813(a)); "
            "Pennsylvania allows 0.9 lb of nitrogen per 1,000 sq ft in one application; "
            "0.5 in order O1 + 0.5 now = 1 lb (3 Pa.C.S. 6813(a))",
        ),
    )
    assert codes(day("PA", SPRING, *two)) == ["LAW-VISIT"]
    # Front and back lawn are parts of one application.
    assert codes(day("PA", SPRING, *two, areas=(2500.0, 2500.0))) == []
    assert codes(day("PA", SPRING, *two, areas=(2500.0, 2600.0))) == ["LAW-VISIT"]


def test_priority_goes_before_the_tables_order() -> None:
    two = (("quick", "0.5 lb N/1000 sq ft"), ("half", "0.5 lb N/1000 sq ft"))
    case = day("PA", SPRING, *two)
    first = replace(case.orders["O2"], priority=1)
    case = replace(case, orders={**case.orders, "O2": first})
    assert [hold.order_id for hold in holds(case)] == ["O1"]
    assert codes(case) == ["LAW-VISIT"]


def test_an_order_held_for_something_else_leaves_the_room_to_the_next() -> None:
    products = {**PRODUCTS, "quick": replace(PRODUCTS["quick"], not_on_grass=("fescue",))}
    two = (("quick", "0.5 lb N/1000 sq ft"), ("half", "0.5 lb N/1000 sq ft"))
    case = day("PA", SPRING, *two, products=products, grass="fescue")
    assert [(hold.order_id, hold.code) for hold in holds(case)] == [("O1", "GRASS")]
    assert codes(case) == ["GRASS"]


def test_yearly_nitrogen() -> None:
    # S13 Marion Co. 19-247: St. Augustine 3 lb. 5,000 ft2 with 25 lb at 50 % are 2.5 lb N.
    lawn = {"grass": "St Augustinegrass", "county": "Marion County"}
    past = (("half", 60, "25 lb"),)
    case = day("FL", SPRING, ("half", "0.6 lb N/1000 sq ft"), past=past, **lawn)
    assert holds(case)[0].reason == (
        "Florida allows 3 lb of nitrogen per 1,000 sq ft a year on St. Augustine; 2.5 on "
        "2027-03-05 + 0.6 now = 3.1 lb (Marion Co. code 19-247)"
    )
    assert codes(case) == ["LAW-YEAR"]
    assert codes(day("FL", SPRING, ("half", "0.5 lb N/1000 sq ft"), past=past, **lawn)) == []
    floratam = day(
        "FL", SPRING, ("half", "0.6 lb N/1000 sq ft"), past=past, **{**lawn, "grass": "Floratam"}
    )
    assert codes(floratam) == ["LAW-YEAR"], "a name of St. Augustine"
    elsewhere = {**lawn, "county": "Lake"}
    assert codes(day("FL", SPRING, ("half", "0.6 lb N/1000 sq ft"), past=past, **elsewhere)) == []
    last_year = (("half", 130, "25 lb"),)
    assert codes(day("FL", SPRING, ("half", "0.6 lb N/1000 sq ft"), past=last_year, **lawn)) == []


def test_a_starter_is_for_one_time_in_florida() -> None:
    # S12 Marion Co. 19-247: once, at most 1.0 lb of phosphate. 15 lb x 20 % / 5 = 0.6 lb before.
    lawn = {"grass_since": SPRING - timedelta(days=80)}
    again = ("starter", "0.5 lb N/1000 sq ft")
    assert codes(day("FL", SPRING, again, **lawn)) == []
    past = (("starter", 60, "15 lb"),)
    assert codes(day("FL", SPRING, again, past=past, **lawn)) == ["LAW-YEAR"]


def test_a_figure_from_memory_says_so_in_the_reason() -> None:
    case = day("NJ", SPRING, ("half", "1.5 lb N/1000 sq ft"))
    assert "NJSA 58:10A-61 and following, from memory: verify" in holds(case)[0].reason
    past = (("half", 60, "40 lb"),)
    case = day("NJ", SPRING, ("half", "0.6 lb N/1000 sq ft"), past=past)
    assert codes(case) == ["LAW-YEAR"]
    assert "4.25 lb of nitrogen" in holds(case)[0].reason
    assert holds(case)[0].reason.endswith("summarizes it)")


@pytest.mark.parametrize(
    ("state", "product", "home", "held"),
    [
        # S16 Minn. Stat. 18C.60: a test less than three years old, or new turf.
        ("MN", "starter", {}, True),
        ("MN", "starter", {"phosphorus_test": SPRING - timedelta(days=3 * 365 - 1)}, False),
        ("MN", "starter", {"phosphorus_test": SPRING - timedelta(days=3 * 365)}, True),
        ("MN", "starter", {"phosphorus_test": SPRING + timedelta(days=1)}, True),
        ("MN", "starter", {"grass_since": SPRING - timedelta(days=364)}, False),
        ("MN", "starter", {"grass_since": SPRING - timedelta(days=365)}, True),
        ("MN", "quick", {}, False),
        # S03 ECL 17-2101: more than 0.67 % phosphate.
        ("NY", "starter", {}, True),
        ("NY", "trace", {}, False),
        ("MN", "trace", {}, True),
        ("NY", "starter", {"phosphorus_test": date(2015, 5, 1)}, False),
        # S10: no soil test lifts it in Pennsylvania; an organic product may give a little.
        ("PA", "starter", {"phosphorus_test": date(2027, 1, 1)}, True),
        ("PA", "organic", {}, False),
        ("OH", "starter", {}, False),
    ],
)
def test_phosphorus(state: str, product: str, home: dict[str, date], held: bool) -> None:
    case = day(state, SPRING, (product, "1 lb/1000 sq ft"), **home)
    assert codes(case) == ["LAW-PHOSPHORUS"] * held


def test_phosphate_is_not_phosphorus() -> None:
    # S12: 0.25 lb P2O5 at once in Florida, 1.0 lb once on new turf; S10: 0.25 lb P in
    # Pennsylvania, which is 0.573 lb P2O5 (worked by hand: 0.25 / 0.4364).
    rate = {"0.25": "1.25 lb/1000 sq ft", "0.3": "1.5 lb/1000 sq ft", "1.1": "5.5 lb/1000 sq ft"}
    assert codes(day("FL", SPRING, ("starter", rate["0.25"]))) == []
    assert codes(day("FL", SPRING, ("starter", rate["0.3"]))) == ["LAW-VISIT"]
    new = {"grass_since": SPRING - timedelta(days=30)}
    thin = {"starter": fertilizer("starter", 1, p=20)}
    assert codes(day("FL", SPRING, ("starter", rate["0.3"]), products=thin, **new)) == []
    assert codes(day("FL", SPRING, ("starter", rate["1.1"]), products=thin, **new)) == ["LAW-VISIT"]
    assert codes(day("PA", SPRING, ("organic", "11.4 lb/1000 sq ft"))) == []
    assert codes(day("PA", SPRING, ("organic", "11.6 lb/1000 sq ft"))) == ["LAW-VISIT"]


@pytest.mark.parametrize(
    ("state", "near_ft", "held"),
    [
        ("NY", 19.0, True),
        ("NY", 20.0, False),
        ("NJ", 24.0, True),
        ("MD", 14.0, True),
        ("PA", 15.0, False),
        ("OH", 1.0, False),
        # Michigan State's summary of MCL 324.8512b; the Vermont agency's of 10 V.S.A. 1266b.
        ("MI", 14.9, True),
        ("MI", 15.0, False),
        ("VT", 24.9, True),
        # 415 ILCS 65/5a(a)(3).
        ("IL", 14.9, True),
        ("IL", 15.0, False),
    ],
)
def test_setbacks(state: str, near_ft: float, held: bool) -> None:
    # S02, S05, S09, S11.
    case = day(state, SPRING, ("half", "0.4 lb N/1000 sq ft"), water_distance_ft=near_ft)
    assert codes(case) == ["LAW-WATER"] * held


def test_a_liquid_of_unknown_density_does_not_pass() -> None:
    uan = days.product("uan", "fertilizer", "9 gal/A", nitrogen_percent=28.0)
    products = {"uan": replace(uan, density_lb_per_gal=None)}
    case = day("PA", SPRING, ("uan", "1 gal/A"), products=products)
    assert codes(case) == ["LAW-VISIT"]
    assert "density of 'uan' is not known" in holds(case)[0].reason


def test_cautions_for_the_sheet_name_their_section() -> None:
    case = day("NJ", SPRING, ("half", "0.4 lb N/1000 sq ft"), ("weedout", "1 fl oz/1000 sq ft"))
    assert state_cautions(case, case.orders["O1"]) == (
        (
            "New Jersey: not on frozen or saturated ground, and not during or just before heavy "
            "rain.",
            "NJSA 58:10A-62(a)(1) and (3), (b)",
        ),
        (
            "New Jersey: not on pavement; sweep or blow back what lands there, or return it to a "
            "container.",
            "NJSA 58:10A-62(a)(2)",
        ),
    )
    (duty, _) = [duty for duty in duties(case, case.orders["O1"]) if duty.kind == "caution"]
    assert duty.line.endswith("heavy rain. (NJSA 58:10A-62(a)(1) and (3), (b))")
    assert state_cautions(case, case.orders["O2"]) == ()
    florida = day("FL", SPRING, ("half", "0.4 lb N/1000 sq ft"), grass="bermuda / fescue")
    (advice, local) = state_cautions(florida, florida.orders["O1"])
    assert "North 3-5" in advice[0]
    assert local[1] == "local ordinances, from memory: verify"
    maryland = day("MD", SPRING, ("half", "0.4 lb N/1000 sq ft"), grass="KBG")
    told = [text for text, _ in state_cautions(maryland, maryland.orders["O1"])]
    assert len(told) == 2, "nothing of enhanced-efficiency products"
    assert any("2.7 lb N" in text for text in told)


def test_potash_alone_is_fertilizer_in_new_york_only() -> None:
    # ECL 17-2103(3): "fertilizer"; NJSA 58:10A-62 names nitrogen and phosphorus.
    products = {"potash": fertilizer("potash", 0, potash_percent=50)}
    for state, held in (("NY", ["LAW-SEASON"]), ("NJ", [])):
        winter = day(state, date(2027, 12, 15), ("potash", "2 lb/1000 sq ft"), products=products)
        assert codes(winter) == held
    shore = {"products": products, "water_distance_ft": 10.0}
    assert codes(day("NY", SPRING, ("potash", "2 lb/1000 sq ft"), **shore)) == ["LAW-WATER"]


def test_new_york_frees_a_new_lawn_of_the_setback() -> None:
    # ECL 17-2103(3)(c), last sentence.
    sown = {"water_distance_ft": 10.0, "grass_since": SPRING - timedelta(days=30)}
    assert codes(day("NY", SPRING, ("half", "0.4 lb N/1000 sq ft"), **sown)) == []


def test_maryland_closes_phosphorus_from_november_16() -> None:
    # AG 8-803.5(c)(2)(i); the state's exception to Dec 1 is for nitrogen.
    tested = {"phosphorus_test": date(2027, 5, 1)}
    for when, held in ((date(2027, 11, 15), []), (date(2027, 11, 20), ["LAW-SEASON"])):
        assert codes(day("MD", when, ("starter", "0.4 lb N/1000 sq ft"), **tested)) == held
    assert codes(day("MD", date(2027, 11, 20), ("half", "0.4 lb N/1000 sq ft"), **tested)) == []


def test_vermont_asks_for_15_percent_slow_nitrogen_of_any_amount() -> None:
    # 10 V.S.A. 1266b(a)(5): less than 15 percent slow-release is barred on turf.
    assert codes(day("VT", SPRING, ("quick", "0.1 lb N/1000 sq ft"))) == ["LAW-SLOW"]
    assert codes(day("VT", SPRING, ("half", "0.1 lb N/1000 sq ft"))) == []


@pytest.mark.parametrize(
    ("state", "tested", "held"),
    [
        # 36 months, 3 years, 18 months and 2 years, as the table's sources say.
        ("WI", date(2024, 9, 1), False),
        ("WI", date(2024, 1, 1), True),
        ("MI", date(2024, 9, 1), False),
        ("IL", None, True),
        ("VT", date(2026, 1, 1), False),
        ("VT", date(2025, 9, 1), True),
        ("CT", date(2025, 1, 1), True),
    ],
)
def test_age_of_soil_tests_in_other_states(state: str, tested: date | None, held: bool) -> None:
    case = day(state, SPRING, ("starter", "0.4 lb N/1000 sq ft"), phosphorus_test=tested)
    assert codes(case) == ["LAW-PHOSPHORUS"] * held


def test_the_office_may_stand_for_the_state() -> None:
    case = day("", date(2027, 1, 5), ("quick", "0.4 lb N/1000 sq ft"))
    book = replace(case.workbook, settings=days.settings(state="NY"))
    assert codes(replace(case, workbook=book)) == ["LAW-SEASON"]


def test_stand_age() -> None:
    rate = parse_rate("2 fl oz/1000 sq ft")
    young = days.product("weedout", "broadleaf", rate.text, stand_days_least=60)
    for age, held in ((59, True), (60, False), (-3, True)):
        case = day(
            "OH",
            SPRING,
            ("weedout", "1 fl oz/1000 sq ft"),
            products={"weedout": young},
            grass_since=SPRING - timedelta(days=age),
        )
        assert codes(case) == ["STAND"] * held


def test_the_audit_names_the_section_of_an_order_that_should_have_been_held() -> None:
    case = day("NY", date(2027, 1, 5), ("quick", "0.4 lb N/1000 sq ft"))
    (told,) = audited_codes(case, ())
    assert "must be held: NY-season (ECL 17-2103(3)(a)): closed [ORDER-HELD]" in told
    wrong = Hold("O1", "LAW-YEAR", "another rule")
    (told,) = audited_codes(case, (wrong,))
    assert "what holds it back is LAW-SEASON" in told
