"""In which order the products of a mix go into the compartment.

The order is a table per formulation code, because published orders disagree in places; a label
that sets its own order wins through `mixing_step` of the product. Sources:

* Oklahoma State University Extension, herbicide mixing order: half to three quarters of the
  water, compatibility agent and defoamer, conditioner, dispersible dries as a slurry, agitate,
  microcapsules and suspensions, soluble liquids, emulsifiables, surfactants.
  https://extension.okstate.edu/fact-sheets/herbicide-mixing-order.html
* South Dakota State University Extension puts microcapsules after emulsifiables and lets soluble
  packets soak first. https://extension.sdstate.edu/preparing-spray-solutions-mixing-order
* Utah State University Extension, jar test: 15 minutes' standing, signs of a mix that fails.
  http://utahpests.usu.edu/htm/utah-pests-news/up-winter-2012/using-a-jar-test/
* Where sprayed fertilizer and colorant stand: common practice, no source.

Jar tests of one quart. A jar holds the mix in the tank's own proportions: Grains Research and
Development Corporation, spray application manual 7.5, https://grdc.com.au (read 2026-11-26).
That fluid fertilizer, iron and flowables ask for one is common practice, no source.
"""

import re
from dataclasses import dataclass

from planner.day.day import Workbook
from planner.day.products import Form, Mix, Product
from planner.mixing.recipes import Recipe
from planner.problems import Problem
from planner.units import convert


@dataclass(frozen=True)
class AdditionStep:
    """One line of the mixing order. product_ids: what is added, none for water and waiting."""

    number: int
    text: str
    product_ids: tuple[str, ...] = ()


@dataclass(frozen=True)
class FormulationClass:
    """What is added at one place of the order. step: that place (1 to 99), the scale that
    `mixing_step` of a product is read on; how: the instruction after the product's name."""

    step: int
    name: str
    codes: tuple[str, ...]
    how: str


DISPERSED = 30
"""Step after which the mix is agitated until nothing is lumped."""

SUSPENSIONS, SOLUBLES, FERTILIZERS, EMULSIONS, ADJUVANTS = 40, 50, 55, 60, 70
"""Steps that the notes and the stand-in for an unknown code refer to."""

TOP_UP_STEP = 80
"""Steps up to here go in before the water is topped up to the mark."""

FORMULATION_CLASSES = (
    FormulationClass(10, "defoamer", ("DEFOAM",), "first, into the water"),
    FormulationClass(
        20, "conditioner or compatibility agent", ("COND",), "before any pesticide; let it dissolve"
    ),
    FormulationClass(
        25,
        "water-soluble packet",
        ("WSB", "WSP"),
        "unopened; let the packet dissolve before anything else goes in",
    ),
    FormulationClass(
        DISPERSED,
        "wettable powder or dispersible granule",
        ("WDG", "WG", "DF", "WP", "DG", "W"),
        "stir to a slurry in a pail of water, then pour in slowly",
    ),
    FormulationClass(
        SUSPENSIONS,
        "suspension or flowable",
        ("SC", "F", "FL", "L", "AS", "CS", "MEC", "ZC"),
        "shake the jug, pour in slowly",
    ),
    FormulationClass(SOLUBLES, "soluble", ("SL", "S", "SP", "SG", "LC", "WSL"), "pour in slowly"),
    FormulationClass(FERTILIZERS, "sprayed fertilizer", ("FERT",), "pour in slowly"),
    FormulationClass(
        EMULSIONS,
        "emulsifiable or oil-based",
        ("EC", "E", "EW", "ME", "SE", "OD", "DC", "ZE"),
        "pour in slowly, agitation running",
    ),
    FormulationClass(
        ADJUVANTS, "surfactant or other adjuvant", ("ADJ", "NIS", "COC", "MSO"), "gently, it foams"
    ),
    FormulationClass(90, "colorant", ("DYE",), "last"),
)

GRANULE_CODES = ("G", "GR", "MG")
"""Granules for a spreader; they have no place in a spray tank."""

CLASS_OF_CODE = {code: group for group in FORMULATION_CLASSES for code in group.codes}


JAR_TEST_TEXT = (
    "New mix: jar test first. Same water, same proportions and same order in a clear glass jar; "
    "shake, let stand 15 minutes or more, shake again. Layers, flakes, gel, heat or gas: "
    "do not mix it."
)

LABEL_ORDER_TEXT = "A label that sets its own order of addition goes before this one."


def formulation_code(text: str) -> str:
    """The letters of a formulation code: 'WDG' from '65 wdg', 'SC' from '2.08SC'."""
    return re.sub(r"[^A-Z]", "", text.upper())


def step_of(product: Product) -> int:
    """Place of the product in the order, 1 to 99: the label's own, else that of its code. A code
    without a place goes among the solubles; formulation_problems reports it."""
    if product.mixing_step is not None:
        return product.mixing_step
    group = CLASS_OF_CODE.get(formulation_code(product.formulation))
    return group.step if group else SOLUBLES


def order_of_addition(workbook: Workbook, mix_id: str) -> tuple[AdditionStep, ...]:
    """The mix's order of addition as plain instructions, from the first water to the last drop.

    Products of one place keep the mix's own order. Raises KeyError for an unknown mix; products
    that the workbook does not hold are passed over.
    """
    mix = workbook.mixes[mix_id]
    products = sorted(_products(workbook, mix), key=step_of)
    lines: list[tuple[str, tuple[str, ...]]] = []
    if mix.new_mix:
        lines.append((JAR_TEST_TEXT, ()))
    lines.append(("Clean water, half to three quarters of it; agitation on.", ()))
    early = [product for product in products if step_of(product) <= TOP_UP_STEP]
    for place, product in enumerate(early):
        lines.append((_instruction(product), (product.product_id,)))
        later = early[place + 1 :]
        if _disperses(product) and not any(_disperses(other) for other in later):
            lines.append(("Agitate until no lumps are left; it takes some minutes.", ()))
    late = products[len(early) :]
    lines.append(("The rest of the water by the meter; keep agitating.", ()))
    lines += [(_instruction(product), (product.product_id,)) for product in late]
    return tuple(
        AdditionStep(number, text, product_ids)
        for number, (text, product_ids) in enumerate(lines, start=1)
    )


def mixing_notes(workbook: Workbook, mix_id: str) -> tuple[str, ...]:
    """Cautions for the mix sheet beside the order of addition."""
    products = _products(workbook, workbook.mixes[mix_id])
    steps = {step_of(product) for product in products}
    notes = [LABEL_ORDER_TEXT]
    if any(product.mixing_step is not None for product in products):
        notes.append("The order above follows a label's own order.")
    if FERTILIZERS in steps and steps & {SUSPENSIONS, EMULSIONS}:
        # Salt breaks suspensions and emulsions (domain practice, from memory).
        notes.append(
            "Fertilizer with a flowable or emulsifiable product: ask the label for a "
            "compatibility agent."
        )
    if sum(1 for product in products if step_of(product) < ADJUVANTS) > 3:
        notes.append("More than three partners: ask whether the mix could be made simpler.")
    return tuple(notes)


def formulation_problems(workbook: Workbook) -> list[Problem]:
    """Products whose formulation code gives no place in the order, and granules in spray mixes."""
    problems: list[Problem] = []
    known = ", ".join(CLASS_OF_CODE)
    for product in workbook.products.values():
        code = formulation_code(product.formulation)
        if product.mixing_step is None and code not in CLASS_OF_CODE and code not in GRANULE_CODES:
            file, row = workbook.source.where("products", product.product_id)
            problems.append(
                Problem(
                    file,
                    row,
                    "formulation",
                    "FORM-1",
                    "this formulation code has no place in the order of addition",
                    product.formulation,
                    f"write one of {known}, or give the label's own place as mixing_step",
                )
            )
    for mix in workbook.mixes.values():
        problems += _granule_problems(workbook, mix)
    return problems


def _granule_problems(workbook: Workbook, mix: Mix) -> list[Problem]:
    problems = []
    for product in _products(workbook, mix):
        if formulation_code(product.formulation) in GRANULE_CODES:
            file, row = workbook.source.where("mix_products", f"{mix.mix_id}/{product.product_id}")
            problems.append(
                Problem(
                    file,
                    row,
                    "product",
                    "FORM-2",
                    "a granule that is spread dry cannot be part of a spray mix",
                    product.product_id,
                    "take it out of the mix, or correct its formulation code",
                )
            )
    return problems


def _instruction(product: Product) -> str:
    if product.mixing_step is not None:
        return f"{product.name}: here, as its label says."
    group = CLASS_OF_CODE.get(formulation_code(product.formulation))
    if group is None:
        return f"{product.name}: see its label for its place."
    soak = product.form is Form.DRY and group.step in (SOLUBLES, FERTILIZERS)
    wait = " and wait until it is dissolved" if soak else ""
    return f"{product.name} ({product.formulation}): {group.how}{wait}."


def _disperses(product: Product) -> bool:
    group = CLASS_OF_CODE.get(formulation_code(product.formulation))
    return group is not None and group.step == DISPERSED


def _products(workbook: Workbook, mix: Mix) -> list[Product]:
    return [
        workbook.products[part.product_id]
        for part in mix.parts
        if part.product_id in workbook.products
    ]


QUARTS_PER_GAL = 4


def wants_jar_test(workbook: Workbook, mix_id: str) -> bool:
    """Whether a mix is new, or two or more products meet of which one is a fluid fertilizer, iron
    or a flowable."""
    mix = workbook.mixes[mix_id]
    products = [workbook.products[part.product_id] for part in mix.parts]
    partners = [product for product in products if step_of(product) < ADJUVANTS]
    return mix.new_mix or (len(partners) > 1 and any(_is_touchy(one) for one in partners))


def _is_touchy(product: Product) -> bool:
    feeds = product.nitrogen_percent or product.phosphate_percent or product.potash_percent
    fluid = product.form is Form.LIQUID and (feeds or step_of(product) == FERTILIZERS)
    words = f"{product.group} {product.active_ingredient}".casefold().split()
    return bool(fluid or "iron" in words or step_of(product) == SUSPENSIONS)


def jar_amounts(workbook: Workbook, recipe: Recipe) -> tuple[tuple[str, str], ...]:
    """(what, how much) for a quart of the mix: water first, then the products as the mix has them.
    Liquids in mL, dry products in g."""
    rows = [("water", _text(convert(recipe.water_gal_per_gal / QUARTS_PER_GAL, "gal", "mL"), "mL"))]
    for part in recipe.parts:
        unit = "mL" if part.unit == "gal" else "g"
        amount = convert(part.amount_per_gal / QUARTS_PER_GAL, part.unit, unit)
        rows.append((workbook.products[part.product_id].name, _text(amount, unit)))
    return tuple(rows)


def _text(amount: float, unit: str) -> str:
    return f"{amount:.0f} {unit}" if amount >= 100 else f"{amount:.2g} {unit}"
