"""Which orders a state's turf-fertilizer rule holds back (rule 19), or ground, soil and bloom
(rule 37), worked out again.

Takes the figures from the rule table and nothing from `planner.mixing`: all that a visit puts
down is weighed first into a small sheet of pounds by kind of product, and the rules read that
sheet.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from planner.day.day import Day, FertilizerRule
from planner.day.orders import GroundDay, Order
from planner.day.places import Property
from planner.day.products import Form, Product
from planner.plan.audit.edges import within_borders
from planner.plan.audit.strength import Dose, DoseBook, StrengthError, Wanted, known, pounds_per_gal
from planner.rules.data import fertilizer_rules_of
from planner.rules.grasses import grass_rows

SLACK = 0.005
"""Half a percent is arithmetic."""

P_SHARE_OF_P2O5 = 61.947524 / 141.942524
"""Weights of two phosphorus atoms and of P2O5 (30.973762 and 15.999 g/mol)."""

YEAR_DAYS = 365
"""A lawn is new for that long, and a soil test of N years is good for N times that."""

NUTRIENT_OF_BASIS = {
    "total N": "N",
    "readily available N": "N",
    "P2O5": "P2O5",
    "P": "P2O5",
    "N or P": "N or P2O5",
    "N, P or K": "N P2O5 K2O",
    "": "",
}


@dataclass(frozen=True)
class StateCase:
    """One order with the ones ahead of it at its property that are not held."""

    day: Day
    order: Order
    ahead: list[Order]
    doses: DoseBook

    @property
    def home(self) -> Property:
        """Where it is sprayed."""
        return self.day.workbook.properties[self.order.property_id]


def state_holds(case: StateCase) -> Iterator[tuple[str, str]]:
    """(code of the hold, what was found) for each rule of its state that holds the order back."""
    rules = [rule for rule in fertilizer_rules_of(case.day.workbook) if _in_force(case, rule)]
    exceptions = [rule for rule in rules if rule.instead_of]
    for rule in rules:
        if rule not in exceptions and case.doses.own(case.order, _wanted(rule)):
            yield from _check(case, rule, exceptions)


def state_ground(case: StateCase) -> set[str]:
    """What the ground may not be for the order's fertilizer; nothing for an order without any."""
    if not case.doses.own(case.order, lambda one: sum(_grade(one)) > 0):
        return set()
    rules = [
        rule
        for rule in fertilizer_rules_of(case.day.workbook)
        if rule.ground and _in_force(case, rule)
    ]
    return {state for rule in rules for state in rule.ground}


def _grade(product: Product) -> tuple[float, float, float]:
    return product.nitrogen_percent, product.phosphate_percent, product.potash_percent


def state_figures(case: StateCase) -> Iterator[float]:
    """Every figure that a hold by a rule of its state may name: the rule's own, the doses that it
    counts, their sums and the slow share."""
    for rule in fertilizer_rules_of(case.day.workbook):
        if rule.state != (case.home.state or case.day.workbook.settings.state).upper():
            continue
        yield from (one for one in (rule.figure, rule.over, rule.slow_percent_least) if one)
        yield from (float(number) for number in (*(rule.first or ()), *(rule.last or ())))
        yield from map(float, re.findall(r"\d+(?:\.\d+)?", f"{rule.words} {rule.origin.cited}"))
        doses = case.doses.own(case.order, _wanted(rule))
        doses += case.doses.before(case.order, case.ahead, _wanted(rule))
        past = case.doses.records(case.order, _wanted(rule), of_year=True)
        for basis in ("total N", "readily available N", "P2O5", "P"):
            try:
                pounds = [_pounds(dose, basis) for dose in doses]
                earlier = [_pounds(dose, basis) for dose in past]
            except StrengthError:
                continue
            yield from (*pounds, *earlier, sum(pounds), sum(pounds) + sum(earlier))
        try:
            visit = _visit_pounds(case, rule)
        except StrengthError:
            continue
        if visit["total N"] > 0:
            yield 100 * (1 - visit["readily available N"] / visit["total N"])


def _wanted(rule: FertilizerRule) -> Wanted:
    return lambda product: _counts(rule, product)


def _in_force(case: StateCase, rule: FertilizerRule) -> bool:
    home = case.home
    state = home.state or case.day.workbook.settings.state
    if rule.state != state.upper() or rule.who == "consumer":
        return False
    if not within_borders(rule, home):
        return False
    if rule.grass and grasses_meant(rule.grass).isdisjoint(grasses_meant(home.grass)):
        return False
    if rule.lawn != "any" and (rule.lawn == "new") != _new(home, case.day.date):
        return False
    return rule.first is None or _within(rule, case.day.date)


@lru_cache(maxsize=2000)
def grasses_meant(cell: str) -> frozenset[str]:
    """Every grass that a cell may mean, by the table; what it does not have, as it is written."""
    text = cell.lower()
    for mark in ("/", "+", "&", ",", "(", ")", " and ", " with "):
        text = text.replace(mark, ";")
    meant: set[str] = set()
    for name in (*text.split(";"), cell.lower()):
        letters = _letters(name)
        kinds = {
            grass
            for grass, names in grass_rows()
            if letters in {_letters(one.lower()) for one in (grass, *names)}
        }
        meant |= kinds or ({letters} if letters else set())
    return frozenset(meant)


@lru_cache(maxsize=2000)
def _letters(name: str) -> str:
    kept = [w for w in re.split(r"[^a-z0-9]+", name) if w not in EMPTY_WORDS]
    plain = "".join(kept)
    return plain[: -len("grass")] if plain.endswith("grass") and plain != "grass" else plain


EMPTY_WORDS = {"lawn", "sod", "blend", "mix", "mixed", "turf", "grasses"}


def _new(home: Property, when: date) -> bool:
    if home.grass_since is None:
        return False
    return 0 <= when.toordinal() - home.grass_since.toordinal() < YEAR_DAYS


def _within(rule: FertilizerRule, when: date) -> bool:
    """Walks on from the first day, over the new year if need be; both ends belong to it."""
    if rule.first is None or rule.last is None:
        return True

    def number(month_day: tuple[int, int]) -> int:
        return month_day[0] * 100 + month_day[1]

    first, last = number(rule.first), number(rule.last)
    today = when.month * 100 + when.day
    length = (last - first) % 1300
    return (today - first) % 1300 <= length


def _counts(rule: FertilizerRule, product: Product) -> bool:
    if rule.products == "plain" and product.enhanced_efficiency:
        return False
    if rule.products == "enhanced" and not product.enhanced_efficiency:
        return False
    nutrient = NUTRIENT_OF_BASIS[rule.basis]
    holds = {
        "N": product.nitrogen_percent,
        "P2O5": product.phosphate_percent,
        "K2O": product.potash_percent,
    }
    return any(holds.get(name, 0.0) > 0 for name in nutrient.split())


def _pounds(dose: Dose, basis: str) -> float:
    product, weight = dose.product, known(dose)
    if product.form is Form.LIQUID:
        density = pounds_per_gal(product)
        if density is None:
            raise StrengthError(f"{product.product_id} has no density")
        weight *= density
    share = {
        "total N": product.nitrogen_percent,
        "readily available N": (
            product.nitrogen_percent * (100 - product.slow_nitrogen_percent) / 100
        ),
        "P2O5": product.phosphate_percent,
        "P": product.phosphate_percent * P_SHARE_OF_P2O5,
    }
    return weight * share[basis] / 100


def _check(
    case: StateCase, rule: FertilizerRule, exceptions: list[FertilizerRule]
) -> Iterator[tuple[str, str]]:
    code = {
        "closed season": "LAW-SEASON",
        "most per application": "LAW-VISIT",
        "least slow share": "LAW-SLOW",
        "most per year": "LAW-YEAR",
        "phosphorus ban": "LAW-PHOSPHORUS",
        "setback": "LAW-WATER",
    }.get(rule.kind)
    if code is None:
        return
    try:
        found = _broken(case, rule, exceptions)
    except StrengthError as error:
        found = f"cannot be worked out: {error}"
    if found:
        yield code, f"{rule.rule_id} ({rule.origin.section}): {found}"


def _broken(case: StateCase, rule: FertilizerRule, exceptions: list[FertilizerRule]) -> str:
    """What was found, '' where the rule is kept."""
    if rule.kind == "setback":
        near_ft, keep_ft = case.home.water_distance_ft, rule.figure or 0.0
        if case.home.shore_ft is not None or near_ft is None:
            return ""
        if case.day.workbook.mixes[case.order.mix_id].targeted_liquid:
            narrower = [one.figure for one in exceptions if one.instead_of == rule.rule_id]
            keep_ft = min([keep_ft, *(figure or 0.0 for figure in narrower)])
        return "" if near_ft >= keep_ft else f"{near_ft:g} ft"
    if rule.kind == "phosphorus ban":
        return _phosphorus(case, rule)
    if rule.kind == "closed season" and rule.over is None:
        return "closed"
    visit = _visit_pounds(case, rule)
    if rule.kind == "closed season":
        return _over(visit[rule.basis], rule.over)
    if rule.kind == "least slow share":
        return _too_quick(visit, rule)
    if rule.kind == "most per year":
        past = case.doses.records(case.order, _wanted(rule), of_year=True)
        return _over(visit[rule.basis] + sum(_pounds(one, rule.basis) for one in past), rule.figure)
    if rule.kind == "most per application":
        return _too_much(visit, rule, exceptions)
    raise ValueError(f"no check of the kind {rule.kind!r}")


def _too_much(
    visit: Mapping[str, float], rule: FertilizerRule, exceptions: list[FertilizerRule]
) -> str:
    most = rule.figure or 0.0
    for other in exceptions:
        if other.instead_of == rule.rule_id and other.figure is not None:
            slow = visit["total N"] - visit["readily available N"]
            if 100 * slow >= (other.slow_percent_least or 0.0) * visit["total N"] - 1e-9:
                most = other.figure
    return _over(visit[rule.basis], most)


def _visit_pounds(case: StateCase, rule: FertilizerRule) -> dict[str, float]:
    """Pounds per 1,000 ft2 of every nutrient in what the rule counts of this visit."""
    doses = case.doses.own(case.order, _wanted(rule))
    doses += case.doses.before(case.order, case.ahead, _wanted(rule))
    return {
        basis: sum(_pounds(dose, basis) for dose in doses)
        for basis in ("total N", "readily available N", "P2O5", "P")
    }


def _over(pounds: float, most: float | None) -> str:
    if most is None or pounds <= most + SLACK * most:
        return ""
    return f"{pounds:.4f} lb per 1,000 ft2, {most:g} allowed"


def _too_quick(visit: dict[str, float], rule: FertilizerRule) -> str:
    nitrogen, soluble = visit["total N"], visit["readily available N"]
    if not _over(nitrogen, rule.over or 0.0):
        return ""
    least = (rule.figure or 0.0) * (1 - SLACK)
    share = 100 * (nitrogen - soluble) / nitrogen
    return f"{share:.2f} % slow" if share < least else ""


def _phosphorus(case: StateCase, rule: FertilizerRule) -> str:
    when, home = case.day.date, case.home
    if _new(home, when):
        return ""
    if home.phosphorus_test is not None and rule.test_years != 0:
        age = when.toordinal() - home.phosphorus_test.toordinal()
        if age >= 0 and (rule.test_years is None or age < rule.test_years * YEAR_DAYS):
            return ""
    own = case.doses.own(case.order, _wanted(rule))
    rich = [one.product.product_id for one in own]
    for dose in own:
        if dose.product.phosphate_percent <= (rule.figure or 0.0):
            rich.remove(dose.product.product_id)
    return f"{', '.join(rich)} with phosphate" if rich else ""


def ground_row(day: Day, order: Order) -> GroundDay | None:
    """The row of today that is about the order's lawn."""
    area, found = day.workbook.properties[order.property_id].weather_area, None
    for row in day.workbook.ground:
        if row.day == day.date and row.area in ("", area) and (found is None or row.area):
            found = row
    return found


def ground_holds(case: StateCase) -> Iterator[tuple[str, str]]:
    """(code, what was found) for each thing about the ground or bloom that holds the order back."""
    day, order = case.day, case.order
    book, row = day.workbook, ground_row(day, order)
    home = book.properties[order.property_id]
    products = [book.products[part.product_id] for part in book.mixes[order.mix_id].parts]
    if row is not None:
        barred = set(row.state) & state_ground(case)
        if barred:
            yield "LAW-GROUND", f"ground is {', '.join(sorted(barred))}"
        for one in products:
            if None not in (one.soil_temperature_least_f, row.soil_temperature_f):
                lacking = (one.soil_temperature_least_f or 0) - (row.soil_temperature_f or 0)
                if lacking > 0:
                    yield "SOIL", f"{one.product_id}: soil is {lacking:g} F too cold"
    today = day.date
    if any(span.first <= today <= span.last for span in home.bloom):
        for one in products:
            if one.not_in_bloom:
                yield "BLOOM", f"{one.product_id} in bloom"
