"""Mixes against the limits of their products' labels, before anything is planned.

A limit is compared in the label's own unit and basis: the mix's rate is turned into what the
limit counts (product, N, ai or ae; per area or per gallon of mix) and not the other way round.
"""

from collections.abc import Iterator

from planner.compliance.applied import product_per_1000_ft2
from planner.compliance.label_limits import in_limits_terms
from planner.day.day import Workbook
from planner.day.products import Mix, MixPart, Product, ProductRate
from planner.mixing.mosts import ARITHMETIC_TOLERANCE, LABEL_PAIR_TOLERANCE, slack
from planner.mixing.recipes import MixingError, product_base
from planner.problems import Problem
from planner.units import Rate


def label_problems(workbook: Workbook) -> list[Problem]:
    """Every rate and carrier volume of a mix that its products' labels do not allow, and limits
    that cannot be compared. Rows that another check reports (unknown products, ranges, rates
    that cannot be crossed) are passed over."""
    problems = [
        problem
        for product in workbook.products.values()
        for problem in _limit_problems(workbook, product)
    ]
    for row in workbook.product_rates:
        problems += _over_own_most(workbook, row, workbook.products[row.product_id])
    for mix in workbook.mixes.values():
        for part in mix.parts:
            product = workbook.products.get(part.product_id)
            if product is not None:
                problems += _rate_problems(workbook, mix, part, product)
                problems += _carrier_problems(workbook, mix, product)
                problems += _barred_problems(workbook, mix, product)
    return problems


def _limit_problems(workbook: Workbook, product: Product) -> Iterator[Problem]:
    file, row = workbook.source.where("products", product.product_id)
    limits = {
        "rate_least": product.rate_least,
        "rate_most": product.rate_most,
        "annual_most": product.annual_most,
    }
    for column, limit in limits.items():
        if limit is None:
            continue
        if column == "annual_most" and limit.basis != "area":
            yield Problem(
                file,
                row,
                column,
                "LABEL-5",
                "a yearly most must be per area, or the year's visits cannot be added up",
                limit.text,
                "write it per acre or per 1000 sq ft",
            )
            continue
        try:
            product_base(product, limit, 1.0)
        except MixingError as error:
            message = f"this limit cannot be compared with amounts of the product: {error.message}"
            yield Problem(file, row, column, "LABEL-6", message, limit.text, error.cure)


def _over_own_most(workbook: Workbook, row: ProductRate, product: Product) -> Iterator[Problem]:
    """A most by grass or target over the product's own, which holds on every grass: one of the two
    is not the label's."""
    for column, rate, own in (
        ("rate_most", row.rate_most, product.rate_most),
        ("annual_most", row.annual_most, product.annual_most),
    ):
        if rate is None or own is None or rate.basis != own.basis:
            continue
        try:
            found = in_limits_terms(product, own, product_base(product, rate, rate.most_base))
        except MixingError:
            continue  # LABEL-6 names the product's own.
        if found > own.most_base * slack(rate, own):
            file, number = workbook.source.where(
                "product_rates", f"{row.product_id}/{row.grass}/{row.target}"
            )
            message = (
                f"over the product's own {column}, which holds everywhere: "
                f"{_pair(own, found, own.most)}"
            )
            cure = (
                f"write the label's figure, at most {own.text}; or, where the label has this one, "
                f"write it in products as {column} and a row here for each grass or target with "
                "the lower"
            )
            yield Problem(file, number, column, "LABEL-8", message, rate.text, cure)


def _rate_problems(
    workbook: Workbook, mix: Mix, part: MixPart, product: Product
) -> Iterator[Problem]:
    rate = part.rate
    if rate.least != rate.most or mix.carrier_gal_per_1000_ft2 <= 0:
        return
    file, row = workbook.source.where("mix_products", f"{mix.mix_id}/{part.product_id}")
    most = compared(mix, product, rate, product.rate_most)
    if most is not None and most > product.rate_most.most_base * slack(rate, product.rate_most):
        limit = product.rate_most
        message = f"over the label's most of {product.product_id}: {_pair(limit, most, limit.most)}"
        cure = f"mix at most {limit.text}"
        yield Problem(file, row, "rate", "LABEL-1", message, rate.text, cure)
    limit_least = product.rate_least
    if limit_least is None or _upside_down(limit_least, product.rate_most):
        # PAIR-1 names a pair that is upside down; an echo of it helps nobody.
        return
    least = compared(mix, product, rate, limit_least)
    if least is not None and least * slack(rate, limit_least) < limit_least.least_base:
        message = (
            f"under the label's least of {product.product_id}: "
            f"{_pair(limit_least, least, limit_least.least)}"
        )
        cure = f"mix at least {limit_least.text}"
        yield Problem(file, row, "rate", "LABEL-2", message, rate.text, cure)


def _upside_down(least: Rate, most: Rate) -> bool:
    terms = [(rate.kind, rate.basis, rate.substance) for rate in (least, most)]
    return terms[0] == terms[1] and least.least_base > most.most_base * (1 + LABEL_PAIR_TOLERANCE)


def compared(mix: Mix, product: Product, rate: Rate, limit: Rate) -> float | None:
    """A mix's rate in a limit's base terms; None where either cannot be crossed."""
    carrier = mix.carrier_gal_per_1000_ft2
    try:
        amount = product_per_1000_ft2(product, rate, carrier)
        if limit.basis != "area":
            amount /= carrier
        return in_limits_terms(product, limit, amount)
    except MixingError:
        return None


def _pair(limit: Rate, found_base: float, limit_value: float) -> str:
    """'1.8 against 1.5 fl oz per 1000 sq ft', in the label's own unit."""
    found = found_base * limit.most / limit.most_base
    unit = limit.unit if limit.substance == "product" else f"{limit.unit} {limit.substance}"
    return f"{found:.4g} against {limit_value:g} {unit} per {limit.per}"


def _carrier_problems(workbook: Workbook, mix: Mix, product: Product) -> Iterator[Problem]:
    file, row = workbook.source.where("mixes", mix.mix_id)
    carrier = mix.carrier_gal_per_1000_ft2
    column = "carrier_gal_per_1000_ft2"
    least, most = product.carrier_least_gal_per_1000_ft2, product.carrier_most_gal_per_1000_ft2
    if least is not None and carrier * (1 + ARITHMETIC_TOLERANCE) < least:
        yield Problem(
            file,
            row,
            column,
            "LABEL-3",
            f"{product.product_id} asks for at least {least:g} gal per 1000 sq ft",
            f"{carrier:g}",
            f"raise the carrier to {least:g} or more",
        )
    if most is not None and carrier > most * (1 + ARITHMETIC_TOLERANCE):
        yield Problem(
            file,
            row,
            column,
            "LABEL-4",
            f"{product.product_id} allows at most {most:g} gal per 1000 sq ft",
            f"{carrier:g}",
            f"lower the carrier to {most:g} or less",
        )


def _barred_problems(workbook: Workbook, mix: Mix, product: Product) -> Iterator[Problem]:
    """Partners in the mix whose name or group the product's label bars."""
    barred = {name.strip().casefold() for name in product.not_with}
    file, row = workbook.source.where("mix_products", f"{mix.mix_id}/{product.product_id}")
    for part in mix.parts:
        other = workbook.products.get(part.product_id)
        if other is None or other.product_id == product.product_id:
            continue
        for name in (other.product_id, other.group):
            if name.casefold() in barred:
                yield Problem(
                    file,
                    row,
                    "product",
                    "LABEL-7",
                    f"the label of {product.product_id} bars {name} from the same mix, and "
                    f"{mix.mix_id} holds {other.product_id}",
                    product.product_id,
                    "make two mixes of them, and keep them apart in keep_apart if need be",
                )
                break
