"""What strips along water and other borders leave of each order, worked out again (rule 34).

Written apart from `planner.compliance`: it takes the lawn's square feet and cuts them off one by
one.
"""

from dataclasses import replace
from datetime import date

from planner.day.day import Day, FertilizerRule
from planner.day.orders import Order
from planner.day.places import Property
from planner.day.products import Mix
from planner.rules.data import fertilizer_rules_of

NOTHING_FT2 = 10.0
NEW_DAYS = 365


def day_without_edges(day: Day) -> Day:
    """The day with areas cut to what may be sprayed; where nothing is left, as ordered."""
    book = replace(
        day.workbook, orders={n: _cut(day, order) for n, order in day.workbook.orders.items()}
    )
    return replace(
        day,
        workbook=book,
        orders={name: _cut(day, order) for name, order in day.orders.items()},
        ahead={name: _cut(day, order) for name, order in day.ahead.items()},
    )


def left_ft2(day: Day, order: Order) -> float | None:
    """Square feet of the order's lawn that may be sprayed; None without any border to keep from."""
    home = day.workbook.properties[order.property_id]
    if not home.shore_ft and not home.edges:
        return None
    lawn_ft2 = home.lawn_ft2
    if home.shore_ft:
        mix = day.workbook.mixes[order.mix_id]
        wide_ft = to_water_ft(day, home, mix) - (home.water_distance_ft or 0.0)
        lawn_ft2 -= home.shore_ft * max(0.0, wide_ft)
    for edge in home.edges:
        if edge.keep_ft > edge.away_ft:
            lawn_ft2 -= edge.length_ft * (edge.keep_ft - edge.away_ft)
    return lawn_ft2


def _cut(day: Day, order: Order) -> Order:
    left = left_ft2(day, order)
    if left is None or left < NOTHING_FT2 or left >= order.area_ft2:
        return order
    return replace(order, area_ft2=left)


def to_water_ft(day: Day, home: Property, mix: Mix) -> float:
    """Feet that the mix must keep from water there."""
    products = [day.workbook.products[part.product_id] for part in mix.parts]
    feet = [product.water_distance_ft or 0.0 for product in products]
    rules = [
        rule
        for rule in fertilizer_rules_of(day.workbook)
        if rule.kind == "setback" and _about(rule, home, day.workbook.settings.state, day.date)
    ]
    narrower = {rule.instead_of: rule for rule in rules if rule.instead_of}
    for rule in rules:
        holds_n = any(product.nitrogen_percent > 0 for product in products)
        holds_p = any(product.phosphate_percent > 0 for product in products)
        holds_k = any(product.potash_percent > 0 for product in products)
        counted = {
            "N or P": holds_n or holds_p,
            "N, P or K": holds_n or holds_p or holds_k,
            "total N": holds_n,
            "readily available N": holds_n,
            "P2O5": holds_p,
            "P": holds_p,
        }
        if rule.instead_of or not counted.get(rule.basis, True):
            continue
        taken = narrower.get(rule.rule_id, rule) if mix.targeted_liquid else rule
        feet.append(taken.figure or 0.0)
    return max(feet, default=0.0)


def within_borders(rule: FertilizerRule, home: Property) -> bool:
    """Whether the lawn is in the county and the town of the rule."""
    if rule.town and rule.town.lower() != home.town.lower():
        return False
    if not rule.county:
        return True
    names = [name.lower().split() for name in (rule.county, home.county)]
    return _without_county(names[0]) == _without_county(names[1])


def _without_county(words: list[str]) -> list[str]:
    return words[:-1] if words[-1:] == ["county"] else words


def _about(rule: FertilizerRule, home: Property, office: str, when: date) -> bool:
    if rule.state != (home.state or office).upper() or rule.who == "consumer":
        return False
    if not within_borders(rule, home):
        return False
    if rule.lawn == "any":
        return True
    age = -1 if home.grass_since is None else when.toordinal() - home.grass_since.toordinal()
    return (rule.lawn == "new") == (0 <= age < NEW_DAYS)
