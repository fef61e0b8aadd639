"""A second checker of labels, states and weather, written plainly for tests.

Shares no code with the planner or its audit and takes another way: every product is turned into
pounds (or gallons) per acre with factors of its own, states are spelled out as plain conditions
with their figures (not read from the rule tables), and time is looked at in quarters of an hour.
"""

from __future__ import annotations

from datetime import date, timedelta

from planner.day.day import Day
from planner.day.orders import Order, PastApplication
from planner.day.places import Property
from planner.day.products import Form, Product
from planner.units import Rate

ACRE_OF_1000 = 43.56
GALLONS = {"fl oz": 1 / 128, "pt": 1 / 8, "qt": 1 / 4, "gal": 1.0, "%": 0.01}
POUNDS = {"oz wt": 1 / 16, "lb": 1.0}
QUARTERS = range(96)

Put = tuple[Product, float]
"""A product and what was put on an acre, in gallons of a liquid or pounds of a dry product."""


class Unknown(Exception):
    """Something that the tables do not say."""


def pounds_of_gallon(product: Product) -> float:
    if product.density_lb_per_gal is not None:
        return product.density_lb_per_gal
    if product.ai_lb_per_gal and product.ai_percent:
        return product.ai_lb_per_gal / product.ai_percent * 100
    raise Unknown(product.product_id)


def strength(product: Product) -> float:
    """Pounds of ai (or ae) in its own unit."""
    if product.form is Form.LIQUID:
        if product.ai_lb_per_gal:
            return product.ai_lb_per_gal
        if product.ai_percent:
            return pounds_of_gallon(product) * product.ai_percent / 100
    elif product.ai_percent:
        return product.ai_percent / 100
    raise Unknown(product.product_id)


def per_acre(product: Product, rate: Rate, carrier: float) -> float:
    """What a mix's rate puts on an acre, in the product's own unit."""
    amount = rate.most * (GALLONS if rate.kind == "volume" else POUNDS)[rate.unit]
    if rate.per == "1000 sq ft":
        amount *= ACRE_OF_1000
    elif rate.per in ("gal", "finished mix"):
        amount *= carrier * ACRE_OF_1000
    elif rate.per != "acre":
        raise AssertionError(rate.per)
    if rate.substance == "N":
        amount /= product.nitrogen_percent / 100
        return amount / pounds_of_gallon(product) if product.form is Form.LIQUID else amount
    if rate.substance in ("ai", "ae"):
        return amount / strength(product)
    if rate.kind == "mass" and product.form is Form.LIQUID:
        return amount / pounds_of_gallon(product)
    return amount


def recorded(product: Product, row: PastApplication) -> float:
    """What a record put on an acre, in the product's own unit."""
    amount = (
        row.amount.value * (GALLONS if row.amount.kind == "volume" else POUNDS)[row.amount.unit]
    )
    if row.amount.kind == "mass" and product.form is Form.LIQUID:
        amount /= pounds_of_gallon(product)
    return amount * 43_560 / row.area_ft2


def names(product: Product) -> set[str]:
    """Its active ingredients; these cases write them between plus signs."""
    return {name.strip().lower() for name in product.active_ingredient.split("+")} - {""}


def nitrogen(put: Put) -> tuple[float, float]:
    """Pounds of N and of it readily available N on 1,000 ft2."""
    product, amount = put
    if product.nitrogen_percent <= 0:
        return 0.0, 0.0
    pounds = amount * (pounds_of_gallon(product) if product.form is Form.LIQUID else 1.0)
    total = pounds * product.nitrogen_percent / 100 / ACRE_OF_1000
    return total, total - total * product.slow_nitrogen_percent / 100


def phosphate(put: Put) -> float:
    """Pounds of P2O5 on 1,000 ft2."""
    product, amount = put
    if product.phosphate_percent <= 0:
        return 0.0
    pounds = amount * (pounds_of_gallon(product) if product.form is Form.LIQUID else 1.0)
    return pounds * product.phosphate_percent / 100 / ACRE_OF_1000


class PlainDay:
    """The codes that hold each order of a day, and its open quarters of an hour."""

    def __init__(self, day: Day) -> None:
        self.day = day
        self.book = day.workbook
        self.codes: dict[str, set[str]] = {}
        queue = list(enumerate(day.orders.values()))
        queue.sort(key=lambda item: (item[1].priority, item[0]))
        free: list[Order] = []
        for _, order in queue:
            before = [other for other in free if other.property_id == order.property_id]
            self.codes[order.order_id] = self._codes(order, before)
            if not self.codes[order.order_id]:
                free.append(order)

    # --- what was put down

    def _own(self, order: Order) -> list[Put]:
        mix = self.book.mixes[order.mix_id]
        return [
            (
                self.book.products[part.product_id],
                per_acre(
                    self.book.products[part.product_id], part.rate, mix.carrier_gal_per_1000_ft2
                ),
            )
            for part in mix.parts
        ]

    def _today(self, order: Order, before: list[Order], chosen: set[str]) -> list[Put]:
        """What the orders before it put on its lawn of the chosen products."""
        others = [o for o in before if any(p.product_id in chosen for p, _ in self._own(o))]
        covered = order.area_ft2 + sum(o.area_ft2 for o in others)
        if covered <= 1.005 * self.book.properties[order.property_id].lawn_ft2:
            return []
        return [put for o in others for put in self._own(o) if put[0].product_id in chosen]

    def _past(self, order: Order, chosen: set[str]) -> list[PastApplication]:
        return [
            row
            for row in self.book.history
            if row.property_id == order.property_id
            and row.product_id in chosen
            and row.day <= self.day.date
            and (not row.rest_of or row.rest_of != (order.part_of or order.order_id))
        ]

    def _past_year(self, order: Order, chosen: set[str]) -> list[Put]:
        return [
            (self.book.products[row.product_id], recorded(self.book.products[row.product_id], row))
            for row in self._past(order, chosen)
            if row.day.year == self.day.date.year
        ]

    # --- codes

    def _codes(self, order: Order, before: list[Order]) -> set[str]:
        found: set[str] = set()
        home = self.book.properties[order.property_id]
        for product, _ in self._own(order):
            found |= self._of_place(product, home)
            found |= self._of_calendar(product, order, before)
            if self._passes_the_year(product, order, before):
                found.add("ANNUAL")
        found |= self._of_state(order, before, home)
        fit = fit_quarters(self.day, order)
        if not fit:
            found.add("WEATHER")
        elif not open_quarters(self.day, order):
            found.add("WINDOW")
        return found

    def _of_place(self, product: Product, home: Property) -> set[str]:
        found: set[str] = set()
        grasses = {name.strip().lower() for name in home.grass.split("/")}
        if grasses & {name.lower() for name in product.not_on_grass}:
            found.add("GRASS")
        if (
            home.water_distance_ft is not None
            and product.water_distance_ft is not None
            and home.water_distance_ft < product.water_distance_ft
        ):
            found.add("WATER")
        if home.grass_since is not None and product.stand_days_least is not None:
            ready = home.grass_since + timedelta(days=product.stand_days_least)
            if self.day.date < max(ready, home.grass_since):
                found.add("STAND")
        return found

    def _of_calendar(self, product: Product, order: Order, before: list[Order]) -> set[str]:
        found: set[str] = set()
        chosen = {product.product_id}
        past = self._past(order, chosen)
        today = self._today(order, before, chosen)
        gap = product.least_days_between
        if gap is not None:
            blocked = any(row.day + timedelta(days=gap) > self.day.date for row in past)
            if blocked or today:
                found.add("INTERVAL")
        if product.most_per_year is not None:
            dates = {row.day for row in past if row.day.year == self.day.date.year}
            if len(dates) + len(today) + 1 > product.most_per_year:
                found.add("TIMES")
        return found

    def _passes_the_year(self, product: Product, order: Order, before: list[Order]) -> bool:
        limit = product.annual_most
        if limit is None:
            return False
        chosen = {product.product_id}
        if limit.substance in ("ai", "ae"):
            chosen |= {
                other.product_id
                for other in self.book.products.values()
                if names(other) & names(product)
            }
        try:
            puts = [put for put in self._own(order) if put[0].product_id in chosen]
            puts += self._today(order, before, chosen) + self._past_year(order, chosen)
            total = sum(self._as_limit_counts(put, limit) for put in puts)
        except Unknown:
            return True
        most = limit.most * (GALLONS if limit.kind == "volume" else POUNDS)[limit.unit]
        if limit.per == "1000 sq ft":
            most *= ACRE_OF_1000
        return total > most * 1.005

    def _as_limit_counts(self, put: Put, limit: Rate) -> float:
        product, amount = put
        if limit.substance == "N":
            return nitrogen(put)[0] * ACRE_OF_1000
        if limit.substance in ("ai", "ae"):
            if limit.substance == "ai" and product.ai_basis == "ae":
                raise Unknown(product.product_id)
            return amount * strength(product)
        if limit.kind == "mass" and product.form is Form.LIQUID:
            return amount * pounds_of_gallon(product)
        return amount

    # --- states, spelled out

    def _of_state(self, order: Order, before: list[Order], home: Property) -> set[str]:
        state = home.state or self.book.settings.state
        found = self._of_local(order, before, home) if self.book.local_fertilizer_rules else set()
        if state not in {"NY", "NJ", "MD", "PA", "FL", "MN"}:
            return found
        own = [product for product, _ in self._own(order)]
        fertilizes = any(p.nitrogen_percent > 0 or p.phosphate_percent > 0 for p in own)
        feeds = fertilizes or any(p.potash_percent > 0 for p in own)
        if state in ("NY", "PA"):
            fertilizes = feeds
        near = home.water_distance_ft
        bank = {"NY": 20, "NJ": 25, "MD": 15, "PA": 15}.get(state)
        if state == "NY" and self._new(home):
            bank = None
        if fertilizes and bank is not None and near is not None and near < bank:
            found.add("LAW-WATER")
        if fertilizes and self._closed(state):
            found.add("LAW-SEASON")
        if self._half_pound(state) and state == "MD" and any(p.phosphate_percent > 0 for p in own):
            found.add("LAW-SEASON")
        if self._phosphate_barred(state, own, home):
            found.add("LAW-PHOSPHORUS")
        return found | self._amounts(state, order, before, home)

    def _of_local(self, order: Order, before: list[Order], home: Property) -> set[str]:
        """Two rules of Marion County and two of Mill Town, as test_random_rules writes them."""
        found: set[str] = set()
        own = [product for product, _ in self._own(order)]
        month = self.day.date.month
        if home.county == "Marion":
            if month in (6, 7, 8) and any(p.nitrogen_percent + p.potash_percent > 0 for p in own):
                found.add("LAW-SEASON")
            if month in (3, 4, 5):
                feeds = {p.product_id for p in self.book.products.values() if p.nitrogen_percent}
                try:
                    if self._visit_nitrogen(order, before, feeds)[0] > 0.6 * 1.005:
                        found.add("LAW-VISIT")
                except Unknown:
                    found.add("LAW-VISIT")
        if home.town == "Mill Town":
            near = home.water_distance_ft
            if near is not None and near < 30 and any(p.nitrogen_percent > 0 for p in own):
                found.add("LAW-WATER")
            tested = home.phosphorus_test
            fresh = tested is not None and tested <= self.day.date < tested + timedelta(days=1095)
            if any(p.phosphate_percent > 1 for p in own) and not fresh and not self._new(home):
                found.add("LAW-PHOSPHORUS")
        return found

    def _closed(self, state: str) -> bool:
        day = self.day.date
        if state == "NY":
            return day.month in (12, 1, 2, 3) or (day.month, day.day) == (4, 1)
        if state in ("NJ", "MD"):
            return (day.month == 12 and day.day > 1) or day.month in (1, 2)
        return False

    def _half_pound(self, state: str) -> bool:
        """Whether the state lets only half a pound of N pass on the day."""
        day = self.day.date
        if state == "PA":
            return (day.month == 12 and day.day > 15) or day.month in (1, 2)
        late = (day.month == 11 and day.day > 15) or (day.month == 12 and day.day == 1)
        return state == "MD" and late

    def _new(self, home: Property) -> bool:
        since = home.grass_since
        return since is not None and since <= self.day.date < since + timedelta(days=365)

    def _phosphate_barred(self, state: str, own: list[Product], home: Property) -> bool:
        if state == "FL" or self._new(home):
            return False
        tested: date | None = home.phosphorus_test
        if tested is not None and tested <= self.day.date:
            if state == "NY":
                return False
            if state != "PA" and self.day.date < tested + timedelta(days=3 * 365):
                return False
        floor = 0.67 if state == "NY" else 0.0
        return any(
            product.phosphate_percent > floor
            and not (state == "PA" and product.enhanced_efficiency)
            for product in own
        )

    def _amounts(self, state: str, order: Order, before: list[Order], home: Property) -> set[str]:
        found: set[str] = set()

        def group(wanted: str, what: str) -> set[str]:
            return {
                p.product_id
                for p in self.book.products.values()
                if wanted == "any" or p.enhanced_efficiency == (wanted == "enhanced")
                if (p.nitrogen_percent if what == "N" else p.phosphate_percent) > 0
            }

        def limit(code: str, wanted: str, what: str, most: float, *, year: bool = False) -> None:
            chosen = group(wanted, "N" if what in ("N", "soluble") else "P")
            own = [put for put in self._own(order) if put[0].product_id in chosen]
            if not own:
                return
            try:
                puts = own + self._today(order, before, chosen)
                if year:
                    puts += self._past_year(order, chosen)
                if what == "P2O5":
                    total = sum(phosphate(put) for put in puts)
                else:
                    total = sum(nitrogen(put)[0 if what == "N" else 1] for put in puts)
            except Unknown:
                found.add(code)
                return
            if total > most * 1.005:
                found.add(code)

        if self._half_pound(state):
            limit("LAW-SEASON", "any", "N", 0.5)
        if state == "NJ":
            limit("LAW-VISIT", "any", "N", 1.0)
            limit("LAW-VISIT", "any", "soluble", 0.7)
            limit("LAW-YEAR", "any", "N", 4.25, year=True)
            self._slow(order, before, group("any", "N"), found)
        elif state == "MD":
            limit("LAW-VISIT", "plain", "N", 0.9)
            limit("LAW-VISIT", "any", "soluble", 0.7)
            limit("LAW-YEAR", "enhanced", "N", 2.5, year=True)
            self._slow(order, before, group("plain", "N"), found)
        elif state == "PA":
            limit("LAW-VISIT", "plain", "N", 0.9)
            limit("LAW-VISIT", "any", "soluble", 0.7)
            if not self._new(home):
                limit("LAW-VISIT", "enhanced", "P2O5", 0.25 / 0.436427)
                limit("LAW-YEAR", "enhanced", "P2O5", 0.5 / 0.436427, year=True)
        elif state == "FL":
            limit("LAW-VISIT", "any", "soluble", 0.7)
            limit("LAW-VISIT", "any", "N", self._florida_most(order, before, group("any", "N")))
            if self._new(home):
                limit("LAW-VISIT", "any", "P2O5", 1.0)
                limit("LAW-YEAR", "any", "P2O5", 1.0, year=True)
            else:
                limit("LAW-VISIT", "any", "P2O5", 0.25)
                limit("LAW-YEAR", "any", "P2O5", 0.5, year=True)
            if home.county == "Marion":
                caps = {"bahiagrass": 3, "bermuda": 4, "St. Augustine": 3, "zoysia": 4}
                for grass, most in caps.items():
                    if grass in home.grass:
                        limit("LAW-YEAR", "any", "N", most, year=True)
        return found

    def _visit_nitrogen(
        self, order: Order, before: list[Order], chosen: set[str]
    ) -> tuple[float, float]:
        puts = [put for put in self._own(order) if put[0].product_id in chosen]
        if not puts:
            return 0.0, 0.0
        puts += self._today(order, before, chosen)
        return sum(nitrogen(put)[0] for put in puts), sum(nitrogen(put)[1] for put in puts)

    def _slow(self, order: Order, before: list[Order], chosen: set[str], found: set[str]) -> None:
        try:
            total, soluble = self._visit_nitrogen(order, before, chosen)
        except Unknown:
            found.add("LAW-SLOW")
            return
        if total > 0.7 * 1.005 and (total - soluble) < 0.2 * 0.995 * total:
            found.add("LAW-SLOW")

    def _florida_most(self, order: Order, before: list[Order], chosen: set[str]) -> float:
        try:
            total, soluble = self._visit_nitrogen(order, before, chosen)
        except Unknown:
            return 1.0
        slow_enough = total > 0 and (total - soluble) / total >= 0.65 - 1e-9
        return 2.0 if slow_enough and 3 <= self.day.date.month <= 8 else 1.0


def fit_quarters(day: Day, order: Order) -> set[int]:
    """Quarters of an hour that the weather leaves open."""
    rows = {}
    area = day.workbook.properties[order.property_id].weather_area
    for row in day.workbook.weather:
        if row.area == "":
            rows[row.day, row.hour] = row
    for row in day.workbook.weather:
        if row.area == area:
            rows[row.day, row.hour] = row
    if not any(when == day.date for when, _ in rows):
        return set(QUARTERS)
    parts = day.workbook.mixes[order.mix_id].parts
    products = [day.workbook.products[part.product_id] for part in parts]
    labels = [product.wind_most_mph for product in products if product.wind_most_mph is not None]
    office = None if labels else day.workbook.settings.wind_most_mph
    return {
        quarter
        for quarter in QUARTERS
        if all(_hour_fits(day, product, quarter // 4, rows, office) for product in products)
    }


def _hour_fits(
    day: Day,
    product: Product,
    hour: int,
    rows: dict,  # type: ignore[type-arg]
    office_most: float | None,
) -> bool:
    row = rows.get((day.date, hour))
    limits = [
        product.wind_least_mph,
        product.wind_most_mph,
        product.temperature_least_f,
        product.temperature_most_f,
        product.rain_free_hours,
    ]
    if row is None:
        return limits == [None] * 5
    if office_most is not None and max(row.wind_mph, row.gust_mph or 0) > office_most:
        return False

    def wet(one) -> bool:  # type: ignore[no-untyped-def]
        chance = day.workbook.settings.rain_counts_from_percent
        return one is not None and (one.rain_in > 0 or one.rain_chance_percent >= chance)

    if wet(row):
        return False
    strongest = max(row.wind_mph, row.gust_mph or 0)
    if product.wind_most_mph is not None and strongest > product.wind_most_mph:
        return False
    if product.wind_least_mph is not None and row.wind_mph < product.wind_least_mph:
        return False
    warmest, coldest = product.temperature_most_f, product.temperature_least_f
    if warmest is not None and row.temperature_f > warmest:
        return False
    if coldest is not None and row.temperature_f < coldest:
        return False
    for later in range(1, 100):
        if later < (product.rain_free_hours or 0) + 1:
            moment = hour + later
            when = day.date + timedelta(days=moment // 24)
            if wet(rows.get((when, moment % 24))):
                return False
    return True


def open_quarters(day: Day, order: Order) -> set[int]:
    """Of these, the ones inside the customer's windows (which here begin on quarters)."""
    fit = fit_quarters(day, order)
    if order.windows is None:
        return fit
    return {
        quarter
        for quarter in fit
        if any(one.open_min <= quarter * 15 < one.close_min for one in order.windows)
    }


def plain_label_codes(day: Day) -> list[tuple[str, str, str]]:
    """(code, mix, product) of every rate and partner that a label does not allow. Rates and limits
    of these cases are in one unit and on an area."""
    book, found = day.workbook, []
    for product in book.products.values():
        by_weight = product.annual_most is not None and product.annual_most.substance == "N"
        if by_weight and product.form is Form.LIQUID:
            try:
                pounds_of_gallon(product)
            except Unknown:
                found.append(("LABEL-6", "", product.product_id))
    for mix in book.mixes.values():
        for part in mix.parts:
            product = book.products[part.product_id]
            carrier = mix.carrier_gal_per_1000_ft2
            try:
                amount = per_acre(product, part.rate, carrier)
                most = per_acre(product, product.rate_most, carrier)
            except Unknown:
                continue
            alike = (part.rate.unit, part.rate.per, part.rate.substance) == (
                product.rate_most.unit,
                product.rate_most.per,
                product.rate_most.substance,
            )
            if amount > most * (1.005 if alike else 1.025):
                found.append(("LABEL-1", mix.mix_id, part.product_id))
            least, top = (
                product.carrier_least_gal_per_1000_ft2,
                product.carrier_most_gal_per_1000_ft2,
            )
            if least is not None and carrier * 1.005 < least:
                found.append(("LABEL-3", mix.mix_id, part.product_id))
            if top is not None and carrier > top * 1.005:
                found.append(("LABEL-4", mix.mix_id, part.product_id))
            others = [book.products[one.product_id] for one in mix.parts if one is not part]
            for other in others:
                if {other.product_id, other.group} & set(product.not_with):
                    found.append(("LABEL-7", mix.mix_id, part.product_id))
    return found
