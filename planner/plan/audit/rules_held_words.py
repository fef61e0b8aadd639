"""Names, dates and figures in the reasons of held orders: what each rule that holds the order back
would have to say is worked out from the tables; a figure that none of them gives is false."""

import re
from collections.abc import Iterable, Iterator
from datetime import timedelta

from planner.day.day import Day
from planner.day.orders import Order
from planner.day.products import Product
from planner.plan.audit.case import Violation
from planner.plan.audit.edges import to_water_ft
from planner.plan.audit.rules_holds import Holds, as_counted, counted_with, yearly
from planner.plan.audit.rules_people import LicenseAsked, asked_of, ended_for, has, nowhere_mixed
from planner.plan.audit.rules_state import StateCase, ground_row, state_figures
from planner.plan.audit.strength import StrengthError, Wanted
from planner.plan.audit.weather import OrderHours
from planner.plan.model import NotDone
from planner.units import Rate

ROUNDED = 0.006
"""Three digits that count."""
FIGURE = re.compile(r"\d{4}-\d\d-\d\d|\d+:\d\d [AP]M|\d+(?:\.\d+)?(?:e[+-]?\d+)?")


def check_held_words(held: Iterable[NotDone], day: Day, holds: Holds) -> Iterator[Violation]:
    """What the reasons of held orders say is so. held: of a plan; holds: of the day, with the
    plan's done orders."""
    for row in held:
        order = day.orders.get(row.order_id)
        if order is None or not row.reason.strip() or row.code not in holds.why(order):
            continue
        facts = _Facts(day, order, holds)
        for message in facts.refute(row.reason):
            yield Violation("REASON-FIGURE", None, None, f"order {row.order_id}: {message}")


class _Facts:
    """What may and must be said of one held order."""

    def __init__(self, day: Day, order: Order, holds: Holds) -> None:
        self._day, self._order, self._holds = day, order, holds
        self._home = day.workbook.properties[order.property_id]
        self._ahead = holds.ahead(order)
        self._figures: list[float] = [1000.0]
        self._words: set[str] = set()
        self._must: set[str] = set()
        why = holds.why(order)
        mix = day.workbook.mixes[order.mix_id]
        self._names = [mix.name, mix.mix_id, order.order_id, self._home.grass]
        self._names += [other.order_id for other in self._ahead]
        for part in mix.parts:
            self._of_product(day.workbook.products[part.product_id], why)
        if any(code.startswith("LAW-") for code in why):
            case = StateCase(day, order, self._ahead, holds.doses)
            self._figures += state_figures(case)
            if self._home.water_distance_ft is not None:
                self._figures.append(self._home.water_distance_ft)
            self._dates_of_doses(lambda product: True)
        ground = ground_row(day, order)
        if "SOIL" in why and ground is not None:
            self._figures.append(ground.soil_temperature_f or 0.0)
            products = [day.workbook.products[part.product_id] for part in mix.parts]
            self._figures += [one.soil_temperature_least_f or 0.0 for one in products]
        if "BLOOM" in why:
            now = [one.last for one in self._home.bloom if one.first <= day.date <= one.last]
            self._say(max(now))
        if "LICENSE" in why:
            self._licenses()
        if "EDGE" in why:
            self._edges()
        if why.keys() & {"RATE", "ANNUAL"}:
            self._names += [part.rate.text for part in mix.parts]
            for row in day.workbook.product_rates:
                self._names += [row.rate_most.text, row.grass, row.target]
                self._names += [row.rate_least.text] if row.rate_least else []
        self._hours = OrderHours(day, order) if {"WEATHER", "WINDOW"} & why.keys() else None

    def refute(self, reason: str) -> Iterator[str]:
        """What is false or lacking in a reason."""
        for words in sorted(self._must):
            if words not in reason:
                yield f"'{reason}' does not say {words}"
        left = reason
        if self._hours is not None:
            left, false = self._hours.refute(left)
            yield from false
        if "cannot be worked out" in left:
            return
        products = self._day.workbook.products.values()
        names = {*self._names, *(product.name for product in products)}
        for name in sorted(names, key=len, reverse=True):
            # An order '1' is no part of the figure 1.3, nor of a date.
            left = (
                re.sub(rf"(?<![\w.-]){re.escape(name)}(?!\w|[.-]\d)", " ", left) if name else left
            )
        for text in FIGURE.findall(re.sub(r"(?<=\d),(?=\d{3})", "", left)):
            if text not in self._words and not self._is_figure(text):
                yield f"{text} is no figure of what holds it back"

    def _is_figure(self, text: str) -> bool:
        if "-" in text[1:5] or ":" in text:
            return False
        return any(abs(float(text) - one) <= ROUNDED * abs(one) for one in self._figures)

    def _say(self, *facts: object) -> None:
        """Facts that the reason must name."""
        words = {f"{fact:g}" if isinstance(fact, float) else str(fact) for fact in facts}
        self._must |= words
        self._words |= {found for one in words for found in FIGURE.findall(one.replace(",", ""))}

    def _of_product(self, product: Product, why: dict[str, str]) -> None:
        today = self._day.date
        home, name = self._home, product.name
        self._names += [name, *product.not_on_grass]
        if "GRASS" in why and any(map(self._holds_grass, product.not_on_grass)):
            self._say(name, home.grass)
        least, since = product.stand_days_least, home.grass_since
        if "STAND" in why and least is not None and since is not None:
            age = (today - since).days
            if age < 0:
                self._say(since)
            elif age < least:
                self._say(name, since, age, least, since + timedelta(days=least))
        near_ft, keep_ft = home.water_distance_ft, product.water_distance_ft
        near = near_ft is not None and keep_ft is not None and near_ft < keep_ft
        if "WATER" in why and near and home.shore_ft is None:
            self._say(name, float(near_ft or 0.0), float(keep_ft or 0.0))
        if "INTERVAL" in why or "TIMES" in why:
            self._calendar(product, why)
        if "ANNUAL" in why:
            self._year(product)

    def _licenses(self) -> None:
        until = self._day.workbook.settings.business_license_until
        if until is not None and until < self._day.date:
            self._say(until)
        for asked in asked_of(self._day, self._order):
            if not any(has(self._day, one, asked) for one in self._day.workbook.trucks.values()):
                if not asked.restricted:
                    self._say(asked.what)
                self._license_figures(asked)
        for asked in nowhere_mixed(self._day, self._order):
            self._say(f"a license of {asked.state} to mix")
            self._license_figures(asked)

    def _license_figures(self, asked: LicenseAsked) -> None:
        self._say(*ended_for(self._day, asked))
        numbers = re.findall(r"\d+(?:\.\d+)?", f"{asked.what} {asked.section}")
        self._figures += [float(number) for number in numbers]

    def _edges(self) -> None:
        home = self._home
        self._say(f"{home.lawn_ft2:,.0f} sq ft")
        near_ft, shore_ft = home.water_distance_ft or 0.0, home.shore_ft or 0.0
        keep_ft = to_water_ft(self._day, home, self._day.workbook.mixes[self._order.mix_id])
        strips = [(keep_ft, near_ft, shore_ft)]
        strips += [(edge.keep_ft, edge.away_ft, edge.length_ft) for edge in home.edges]
        for keep, away, length in strips:
            self._figures += [keep, keep - away, length, (keep - away) * length]
        self._names += [edge.name for edge in home.edges]
        case = StateCase(self._day, self._order, self._ahead, self._holds.doses)
        self._figures += state_figures(case)

    def _holds_grass(self, banned: str) -> bool:
        return banned.strip().lower() in {
            one.strip().lower()
            for one in (*re.split(r"[;,/+&]", self._home.grass), self._home.grass)
        }

    def _calendar(self, product: Product, why: dict[str, str]) -> None:
        def same(other: Product) -> bool:
            return other.product_id == product.product_id

        doses, when = self._holds.doses, self._day.date
        past = doses.records(self._order, same, of_year=False)
        now = doses.before(self._order, self._ahead, same)
        least, most = product.least_days_between, product.most_per_year
        if least is not None and now:
            self._say(product.name, least, when + timedelta(days=least))
        elif least is not None and past:
            last = max(dose.day for dose in past)
            if (when - last).days < least:
                self._say(product.name, (when - last).days, last, least)
                self._say(last + timedelta(days=least))
        days = {dose.day for dose in past if dose.day.year == when.year}
        if most is not None and "TIMES" in why and len(days) + len(now) >= most:
            self._say(product.name, most, *days)
            self._figures += [float(len(days)), float(most)]

    def _year(self, product: Product) -> None:
        for limit in yearly(self._day.workbook, self._order, product):
            self._one_year(product, limit)

    def _one_year(self, product: Product, limit: Rate) -> None:
        wanted = counted_with(product, limit)
        doses = [
            *self._holds.doses.own(self._order, wanted),
            *self._holds.doses.before(self._order, self._ahead, wanted),
            *self._holds.doses.records(self._order, wanted, of_year=True),
        ]
        self._dates_of_doses(wanted)
        try:
            amounts = [as_counted(dose, limit) for dose in doses]
        except StrengthError:
            return
        scale = limit.most / limit.most_base
        self._figures += [one * scale for one in (*amounts, sum(amounts), limit.most_base)]
        self._figures += [float(number) for number in re.findall(r"\d+", limit.per)]

    def _dates_of_doses(self, wanted: Wanted) -> None:
        for dose in self._holds.doses.records(self._order, wanted, of_year=True):
            self._words.add(str(dose.day))
