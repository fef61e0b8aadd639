"""Checks of products, mixes and what is kept apart."""

from collections import defaultdict
from collections.abc import Iterator

from planner.day.products import ANY_OTHER, Form
from planner.problems import Problem
from planner.tables.rows import Row, Tables
from planner.tables.text import alike, did_you_mean, letters
from planner.units import Amount, Rate, parse_unit

WEIGHTY_SHARE = 0.05
"""A liquid that fills this much of a mix changes the truck's weight by more than the label's own
rounding; less of it is taken to weigh as much as water."""

SINGLE_RATES = (
    ("mix_products", "rate", "state the one rate that is mixed"),
    ("products", "rate_least", "write the low end here and the high end as rate_most"),
    ("products", "rate_most", "write the low end as rate_least and the high end here"),
    ("products", "annual_most", "write the most that is allowed"),
)


def check_densities(tables: Tables) -> Iterator[Problem]:
    """PROD-1: a liquid that fills much of a mix and whose weight is not known."""
    carriers = {row.written("mix"): row for row in tables.rows("mixes")}
    shares: dict[str, float] = {}
    for row in tables.rows("mix_products"):
        rate, mix = row.value("rate"), carriers.get(row.text("mix"))
        carrier = mix.number_or_none("carrier_gal_per_1000_ft2") if mix else None
        if not isinstance(rate, Rate) or rate.kind != "volume" or not carrier:
            continue
        share = rate.most_base / carrier if rate.basis == "area" else rate.most_base
        product = row.text("product")
        shares[product] = max(share, shares.get(product, 0.0))
    for row in tables.rows("products"):
        share = shares.get(row.text("product"), 0.0)
        if row.text("form") == Form.LIQUID and share >= WEIGHTY_SHARE and _no_density(row):
            yield row.problem(
                "density_lb_per_gal",
                "PROD-1",
                f"this liquid is {100 * share:.0f} % of a mix and its weight is not known",
                "copy lb/gal from the label or safety data sheet (specific gravity x 8.34)",
            )


def _no_density(row: Row) -> bool:
    columns = ("density_lb_per_gal", "ai_lb_per_gal", "ai_percent")
    if not row.good(*columns):
        return False
    given, pounds, percent = (row.value(column) for column in columns)
    return given is None and not (pounds and percent)


def check_prices_have_units(tables: Tables) -> Iterator[Problem]:
    """PROD-2: a price that does not say for what."""
    for row in tables.rows("products"):
        price = row.number_or_none("price")
        if price and row.good("price_unit") and row.value("price_unit") is None:
            yield row.problem(
                "price_unit", "PROD-2", "the price has no unit", "write gal, lb, qt ... here"
            )


def check_dry_by_weight(tables: Tables) -> Iterator[Problem]:
    """PROD-3: a dry product whose price, container, stock, measure, packet or past use is a
    volume."""
    dry = {row.written("product") for row in tables.rows("products") if _is_dry(row)}
    cells = [
        (row, column)
        for row in tables.rows("products")
        if _is_dry(row)
        for column in ("price_unit", "container", "in_store", "smallest_measure", "packet")
    ] + [(row, "amount") for row in tables.rows_with("history", "product", dry)]
    for row, column in cells:
        value = row.value(column)
        if value is not None and _is_volume(value):
            yield row.problem(
                column, "PROD-3", "the product is dry and counted by weight", "write lb or oz wt"
            )


def check_stock_can_be_compared(tables: Tables) -> Iterator[Problem]:
    """PROD-6: a liquid whose stock is a weight and whose density is not known."""
    for row in tables.rows("products"):
        stock = row.value("in_store")
        if not isinstance(stock, Amount) or stock.kind == "volume":
            continue
        if row.text("form") == Form.LIQUID and _no_density(row):
            yield row.problem(
                "in_store",
                "PROD-6",
                "the product is liquid, this is a weight, and what a gallon weighs is not known",
                "write gal, qt or fl oz, or fill in density_lb_per_gal",
            )


def check_liquids_are_measured_by_volume(tables: Tables) -> Iterator[Problem]:
    """PROD-7: a liquid whose smallest measure or packet is a weight."""
    for row in tables.rows("products"):
        if row.text("form") != Form.LIQUID:
            continue
        for column in ("smallest_measure", "packet"):
            value = row.value(column)
            if isinstance(value, Amount) and value.kind != "volume":
                message = "the product is liquid and measured by volume"
                yield row.problem(column, "PROD-7", message, "write fl oz or mL")


def _is_dry(row: Row) -> bool:
    return row.text("form") == Form.DRY


def _is_volume(value: object) -> bool:
    if isinstance(value, Amount):
        return value.kind == "volume"
    return parse_unit(str(value))[1] == "volume"


def check_group_spelling(tables: Tables) -> Iterator[Problem]:
    """PROD-4: one group in two spellings; a rule to keep it apart would miss one of them."""
    first: dict[str, Row] = {}
    for row in tables.rows("products"):
        group = row.text("group")
        if not group:
            continue
        other = first.setdefault(letters(group), row)
        if other.text("group") != group:
            yield row.problem(
                "group",
                "PROD-4",
                f"row {other.number} writes it '{other.text('group')}'",
                "spell a group the same way everywhere",
            )


def check_barred_spelling(tables: Tables) -> Iterator[Problem]:
    """PROD-5: a name in not_with that is nearly, but not quite, a product or group of the table. A
    label may bar what the office does not hold, so that a name without a like is no fault."""
    rows = tables.rows("products")
    known = {row.written(column) for row in rows for column in ("product", "group")} - {""}
    same = {name.casefold() for name in known}
    for row in rows:
        for name in row.items("not_with"):
            other = next((item for item in sorted(known) if alike(name, item)), None)
            if other is not None and name.casefold() not in same:
                yield row.problem(
                    "not_with",
                    "PROD-5",
                    f"the table writes it '{other}'",
                    "spell it as in the columns product or group",
                    found=name,
                )


def check_mixes_have_products(tables: Tables) -> Iterator[Problem]:
    """MIX-1: a mix without a row in mix_products."""
    if not tables.known("mix_products"):
        return
    made = {row.written("mix") for row in tables.rows("mix_products")}
    for row in tables.rows("mixes"):
        if row.good("mix") and row.text("mix") not in made:
            yield row.problem(
                "mix", "MIX-1", "the mix has no products", "add its products to mix_products"
            )


def check_rates_are_single(tables: Tables) -> Iterator[Problem]:
    """MIX-2: a range where one rate is needed."""
    for table, column, cure in SINGLE_RATES:
        for row in tables.rows(table):
            rate = row.value(column)
            if isinstance(rate, Rate) and rate.least != rate.most:
                yield row.problem(column, "MIX-2", "this is a range", cure)


def check_mixes_agree_with_themselves(tables: Tables) -> Iterator[Problem]:
    """MIX-3: a mix of things that keep_apart separates."""
    names: dict[str, set[str]] = defaultdict(set)
    groups = {row.written("product"): row.text("group") for row in tables.rows("products")}
    for row in tables.rows("mix_products"):
        names[row.text("mix")].add(groups.get(row.text("product")) or "")
    for row in tables.rows("keep_apart"):
        a, b = row.text("a"), row.text("b")
        if not a or not b or a == b:
            continue
        for mix, held in names.items():
            if mix and a in held | {mix} and b in held | {mix}:
                yield row.problem(
                    "b",
                    "MIX-3",
                    f"mix {mix} holds both {a} and {b}",
                    "take one out of the mix, or remove this row",
                )


def check_apart_names(tables: Tables) -> Iterator[Problem]:
    """APART-1: a name that is neither a group nor a mix."""
    if not tables.known("products", "mixes"):
        return
    groups = {row.written("group") for row in tables.rows("products")}
    known = sorted((groups | tables.ids("mixes") | {ANY_OTHER}) - {""})
    for row in tables.rows("keep_apart"):
        for column in ("a", "b"):
            name = row.text(column)
            if name and name not in known and name.casefold() != ANY_OTHER:
                cure = did_you_mean(name, known, "write a product group or a mix")
                yield row.problem(
                    column, "APART-1", "this is neither a product group nor a mix", cure
                )


def check_apart_from_another(tables: Tables) -> Iterator[Problem]:
    """APART-2: the same name on both sides; a mix may always meet itself."""
    for row in tables.rows("keep_apart"):
        a, b = row.text("a"), row.text("b")
        if a and a.casefold() == b.casefold():
            yield row.problem(
                "b",
                "APART-2",
                "both sides have the same name",
                f"write what {a} must be kept apart from, or '{ANY_OTHER}'"
                if a.casefold() != ANY_OTHER
                else "write a product group or a mix on one side",
            )
