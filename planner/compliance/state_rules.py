"""State turf-fertilizer rules on an order: what holds it, and what the sheet must say.

The rules are data (`planner/rules/fertilizer.csv`). Figures are pounds per 1,000 ft2 of all that
one visit puts on a lawn. The company is a professional; rules for householders stay in the table
and hold nothing. Where a rule lets a narrower distance or a higher figure pass on conditions that
the tables do not know, the wider reading holds and the reason names the condition.
"""

from collections.abc import Callable, Iterator, Sequence
from datetime import date

from planner.compliance.applied import Applied, Counts, LawnCase, parts_of
from planner.compliance.label_limits import SHORE_CURE, SUM_TOLERANCE
from planner.day.day import Day, FertilizerRule, MonthDay
from planner.day.orders import Order
from planner.day.places import Property
from planner.day.products import Form, Product
from planner.mixing.recipes import (
    PHOSPHORUS_PER_PHOSPHATE,
    MixingError,
    product_density_lb_per_gal,
    soluble_nitrogen_lb,
)
from planner.rules.data import fertilizer_rules_of, place_of
from planner.rules.grasses import grasses_of

WORDS = {
    "total N": "nitrogen",
    "readily available N": "readily available nitrogen",
    "P2O5": "phosphate (P2O5)",
    "P": "phosphorus (P)",
}

NEW_LAWN_DAYS = 365
"""A lawn counts as new for a year from sowing; the rules say 'establishing' or 'first growing
season' (our reading)."""

DAYS_OF_A_YEAR = 365


def state_reasons(place: LawnCase) -> Iterator[tuple[str, str]]:
    """(code, reason) of every state rule that keeps the order back."""
    for rule in _rules_at(place.day, place.order):
        code, reasons = _KINDS[rule.kind]
        try:
            for reason in reasons(place, rule):
                yield code, reason
        except MixingError as error:
            reason = f"{place_of(rule)}'s limit cannot be worked out: {error} ({_cited(rule)})"
            yield code, reason


def state_cautions(day: Day, order: Order) -> tuple[tuple[str, str], ...]:
    """What the state's rules say beside the figures, for an order with fertilizer: (sentence,
    section) for the route sheet."""
    feeds = [one for _, one in parts_of(day.workbook, order) if fertilizes(one)]
    return tuple(
        (f"{place_of(rule)}: {rule.words}.", _cited(rule))
        for rule in _rules_at(day, order, kinds=("caution", "recommendation"))
        if any(_is_kind(rule, product) for product in feeds)
    )


def ground_rules(day: Day, order: Order) -> Iterator[tuple[FertilizerRule, str]]:
    """Rules that bar some ground, with the state's name, for an order with fertilizer."""
    if any(fertilizes(product) for _, product in parts_of(day.workbook, order)):
        for rule in _rules_at(day, order, kinds=("caution",)):
            if rule.ground:
                yield rule, place_of(rule)


def _rules_at(
    day: Day, order: Order, kinds: Sequence[str] | None = None
) -> Iterator[FertilizerRule]:
    home = day.workbook.properties[order.property_id]
    state = (home.state or day.workbook.settings.state).upper()
    for rule in fertilizer_rules_of(day.workbook):
        wanted = rule.kind in kinds if kinds else rule.kind in _KINDS
        if rule.state == state and wanted and _is_about(rule, home, day.date):
            yield rule


def _is_about(rule: FertilizerRule, home: Property, when: date) -> bool:
    new = _is_new(home, when)
    return (
        rule.who != "consumer"
        and bare_county(rule.county) in ("", bare_county(home.county))
        and rule.town.casefold() in ("", home.town.casefold())
        and rule.lawn in ("any", "new" if new else "established")
        and (not rule.grass or not grasses_of(rule.grass).isdisjoint(grasses_of(home.grass)))
        and (rule.first is None or _in_season(rule, when))
    )


def bare_county(county: str) -> str:
    """'Union County' -> 'union'."""
    return county.casefold().removesuffix("county").strip()


def _is_new(home: Property, when: date) -> bool:
    return home.grass_since is not None and 0 <= (when - home.grass_since).days < NEW_LAWN_DAYS


def _in_season(rule: FertilizerRule, when: date) -> bool:
    """Both ends belong to it; it may wrap the new year."""
    assert rule.first is not None
    assert rule.last is not None
    today = (when.month, when.day)
    if rule.first <= rule.last:
        return rule.first <= today <= rule.last
    return today >= rule.first or today <= rule.last


def fertilizes(product: Product) -> bool:
    """Whether it feeds: nitrogen, phosphate or potash."""
    return max(product.nitrogen_percent, product.phosphate_percent, product.potash_percent) > 0


def _is_kind(rule: FertilizerRule, product: Product) -> bool:
    return rule.products == "any" or product.enhanced_efficiency == (rule.products == "enhanced")


def _counts(rule: FertilizerRule) -> Counts:
    def counts(product: Product) -> bool:
        if not _is_kind(rule, product):
            return False
        if rule.basis == "N, P or K":
            return fertilizes(product)
        if rule.basis == "N or P":
            return product.nitrogen_percent > 0 or product.phosphate_percent > 0
        if rule.basis in ("P2O5", "P"):
            return product.phosphate_percent > 0
        return product.nitrogen_percent > 0

    return counts


def nutrient_lb_per_1000_ft2(product: Product, amount: float, basis: str) -> float:
    """Pounds of a nutrient in gallons (liquid) or pounds (dry) of product. basis: total N, readily
    available N, P2O5 or P. Raises MixingError for a liquid of unknown density."""
    pounds = amount
    if product.form is Form.LIQUID:
        density = product_density_lb_per_gal(product)
        if density is None:
            raise MixingError(
                "RECIPE-1",
                f"the density of '{product.product_id}' is not known",
                "give density_lb_per_gal of the product",
            )
        pounds *= density
    if basis in ("P2O5", "P"):
        phosphate = pounds * product.phosphate_percent / 100
        return phosphate if basis == "P2O5" else phosphate * PHOSPHORUS_PER_PHOSPHATE
    nitrogen = pounds * product.nitrogen_percent / 100
    if basis == "total N":
        return nitrogen
    return soluble_nitrogen_lb(nitrogen, product.slow_nitrogen_percent)


def _terms(rows: Sequence[Applied], basis: str) -> list[tuple[Applied, float]]:
    return [(row, nutrient_lb_per_1000_ft2(row.product, row.per_1000_ft2, basis)) for row in rows]


def _visit(place: LawnCase, rule: FertilizerRule) -> list[Applied]:
    """What this order and the day's earlier ones put down; nothing when this order gives none."""
    now = place.now(_counts(rule))
    return [*place.today(_counts(rule)), *now] if now else []


def _season(place: LawnCase, rule: FertilizerRule) -> Iterator[str]:
    rows = _visit(place, rule)
    span = f"from {_day_text(rule.first)} to {_day_text(rule.last)}"
    if not rows:
        return
    if rule.over is None:
        yield f"{place_of(rule)} closes lawns to fertilizer {span} ({_cited(rule)})"
        return
    terms = _terms(rows, rule.basis)
    if _total(terms) > rule.over * (1 + SUM_TOLERANCE):
        yield (
            f"{place_of(rule)} allows at most {rule.over:g} lb of {WORDS[rule.basis]} per 1,000 sq "
            f"ft {span}; {_sum_text(terms)} ({_cited(rule)})"
        )


def _per_visit(place: LawnCase, rule: FertilizerRule) -> Iterator[str]:
    rows = _visit(place, rule)
    if not rows or rule.instead_of:
        return
    terms = _terms(rows, rule.basis)
    figure, cited = _figure(rule), _cited(rule)
    for other in _rules_at(place.day, place.order):
        share = other.slow_percent_least
        if other.instead_of == rule.rule_id and share is not None and _slow(rows) >= share - 1e-9:
            figure, cited = _figure(other), f"{cited}; {_cited(other)}"
    if _total(terms) > figure * (1 + SUM_TOLERANCE):
        yield (
            f"{place_of(rule)} allows {figure:g} lb of {WORDS[rule.basis]} per 1,000 sq ft in one "
            f"application; {_sum_text(terms)} ({cited})"
        )


def _per_year(place: LawnCase, rule: FertilizerRule) -> Iterator[str]:
    rows = _visit(place, rule)
    if not rows:
        return
    terms = _terms([*place.recorded_this_year(_counts(rule)), *rows], rule.basis)
    if _total(terms) > _figure(rule) * (1 + SUM_TOLERANCE):
        yield (
            f"{place_of(rule)} allows {rule.figure:g} lb of {WORDS[rule.basis]} per 1,000 sq ft a "
            f"year{_of_grass(rule)}; {_sum_text(terms)} ({_cited(rule)})"
        )


def _slow_share(place: LawnCase, rule: FertilizerRule) -> Iterator[str]:
    rows = _visit(place, rule)
    terms = _terms(rows, "total N")
    if not rows or _total(terms) <= (rule.over or 0.0) * (1 + SUM_TOLERANCE):
        return
    share = _slow(rows)
    if share < _figure(rule) * (1 - SUM_TOLERANCE):
        yield (
            f"{place_of(rule)} asks for {rule.figure:g} % slow-release nitrogen; of "
            f"{_total(terms):.3g} lb per 1,000 sq ft {share:.3g} % is ({_cited(rule)})"
        )


def _phosphorus(place: LawnCase, rule: FertilizerRule) -> Iterator[str]:
    home = place.workbook.properties[place.order.property_id]
    barred = [
        product
        for _, product in parts_of(place.workbook, place.order)
        if _counts(rule)(product) and product.phosphate_percent > _figure(rule)
    ]
    if barred and not _is_new(home, place.day.date) and not _test_lifts(rule, home, place.day.date):
        names = " and ".join(product.name for product in barred)
        yield (f"{names} holds phosphate; {place_of(rule)}: {rule.words} ({_cited(rule)})")


def _test_lifts(rule: FertilizerRule, home: Property, when: date) -> bool:
    tested = home.phosphorus_test
    if tested is None or tested > when or rule.test_years == 0:
        return False
    return rule.test_years is None or (when - tested).days < rule.test_years * DAYS_OF_A_YEAR


def setbacks(day: Day, order: Order) -> list[tuple[float, str]]:
    """(feet to water, state and section) of every setback that is about the order; a targeted
    liquid may keep the narrower distance where the rule has one."""
    found = []
    rules = list(_rules_at(day, order, kinds=("setback",)))
    targeted = day.workbook.mixes[order.mix_id].targeted_liquid
    for rule in rules:
        counts = _counts(rule)
        if rule.instead_of or not any(counts(one) for _, one in parts_of(day.workbook, order)):
            continue
        for other in rules if targeted else ():
            if other.instead_of == rule.rule_id:
                rule = other
        found.append((_figure(rule), f"{place_of(rule)}, {_cited(rule)}"))
    return found


def _setback(place: LawnCase, rule: FertilizerRule) -> Iterator[str]:
    """Where the shore's length is known a strip is left instead (compliance/edges.py)."""
    home = place.workbook.properties[place.order.property_id]
    near_ft = home.water_distance_ft
    if near_ft is None or home.shore_ft is not None or rule.instead_of:
        return
    figure, words = _figure(rule), rule.words
    if place.workbook.mixes[place.order.mix_id].targeted_liquid:
        for other in _rules_at(place.day, place.order, kinds=("setback",)):
            if other.instead_of == rule.rule_id:
                figure, words = _figure(other), other.words
    if near_ft >= figure or not place.now(_counts(rule)):
        return
    told = "; ".join(text for text in (words, _cited(rule), SHORE_CURE) if text)
    yield (
        f"water is {near_ft:g} ft from the lawn, {place_of(rule)} keeps fertilizer {figure:g} ft "
        f"away ({told})"
    )


_KINDS: dict[str, tuple[str, Callable[[LawnCase, FertilizerRule], Iterator[str]]]] = {
    "closed season": ("LAW-SEASON", _season),
    "most per application": ("LAW-VISIT", _per_visit),
    "least slow share": ("LAW-SLOW", _slow_share),
    "most per year": ("LAW-YEAR", _per_year),
    "phosphorus ban": ("LAW-PHOSPHORUS", _phosphorus),
    "setback": ("LAW-WATER", _setback),
}
"""Kind of rule -> code of its hold, and every rule of that kind that an order breaks, in words."""


def _figure(rule: FertilizerRule) -> float:
    assert rule.figure is not None, f"{rule.rule_id} has no figure"
    return rule.figure


def _total(terms: Sequence[tuple[Applied, float]]) -> float:
    return sum(amount for _, amount in terms)


def _slow(rows: Sequence[Applied]) -> float:
    """Percent of the rows' nitrogen that is slow-release; 0 without nitrogen."""
    nitrogen = _total(_terms(rows, "total N"))
    if nitrogen <= 0:
        return 0.0
    return 100 * (1 - _total(_terms(rows, "readily available N")) / nitrogen)


def _sum_text(terms: Sequence[tuple[Applied, float]]) -> str:
    """'0.4 on 2027-03-15 + 0.3 now = 0.7 lb'; one term alone needs no sum."""
    total = f"{_total(terms):.3g} lb"
    if len(terms) == 1:
        return f"this visit gives {total}"
    return " + ".join(f"{amount:.3g} {row.when}" for row, amount in terms) + f" = {total}"


def _of_grass(rule: FertilizerRule) -> str:
    return f" on {rule.grass}" if rule.grass else ""


def _cited(rule: FertilizerRule) -> str:
    return rule.origin.cited


_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def _day_text(day: MonthDay | None) -> str:
    assert day is not None
    month, number = day
    return "the end of February" if day == (2, 29) else f"{_MONTHS[month - 1]} {number}"
