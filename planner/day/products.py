"""Products with their label limits, the mixes made of them, and what must be kept apart."""

from dataclasses import dataclass
from enum import StrEnum

from planner.units import Amount, Rate


class Form(StrEnum):
    """Liquid products are counted in gallons, dry ones in pounds."""

    LIQUID = "liquid"
    DRY = "dry"


@dataclass(frozen=True)
class Product:
    """One product as its label states it. None = the label sets no such limit.

    stand_days_least: days from sowing before it may be applied. not_with: products and groups
    that the label bars from one mix. enhanced_efficiency: slow or stabilized nitrogen, or an
    organic product, as the states' fertilizer rules mean it. in_store: what the store holds on the
    day, None = plenty. smallest_measure: step of the cup or scale that it is measured with, None =
    the usual ones. mixing_ppe: beside ppe while mixing and loading. packet: water-soluble.
    """

    product_id: str
    name: str
    registration_no: str
    form: Form
    formulation: str
    group: str
    active_ingredient: str
    density_lb_per_gal: float | None
    ai_lb_per_gal: float | None
    ai_percent: float | None
    ai_basis: str
    nitrogen_percent: float
    phosphate_percent: float
    potash_percent: float
    slow_nitrogen_percent: float
    rate_least: Rate | None
    rate_most: Rate
    annual_most: Rate | None
    least_days_between: int | None
    most_per_year: int | None
    carrier_least_gal_per_1000_ft2: float | None
    carrier_most_gal_per_1000_ft2: float | None
    wind_least_mph: float | None
    wind_most_mph: float | None
    temperature_least_f: float | None
    temperature_most_f: float | None
    rain_free_hours: float | None
    not_on_grass: tuple[str, ...]
    water_distance_ft: float | None
    signal_word: str
    ppe: tuple[str, ...]
    reentry: str
    price: float | None
    price_unit: str | None
    container: Amount | None
    mixing_step: int | None
    stand_days_least: int | None = None
    not_with: tuple[str, ...] = ()
    enhanced_efficiency: bool = False
    in_store: Amount | None = None
    smallest_measure: Amount | None = None
    first_aid: str = ""
    mixing_ppe: tuple[str, ...] = ()
    water_note: str = ""
    packet: Amount | None = None
    restricted_use: bool = False
    delivery_days: int | None = None
    soil_temperature_least_f: float | None = None
    not_in_bloom: bool = False

    @property
    def packet_base(self) -> float | None:
        """Gallons or pounds of one of its water-soluble packets; None = it comes in none."""
        return self.packet.base if self.packet is not None else None

    @property
    def unit(self) -> str:
        """Base unit of its amounts: 'gal' when liquid, 'lb' when dry."""
        return "gal" if self.form is Form.LIQUID else "lb"


@dataclass(frozen=True)
class ProductRate:
    """A label's most and least per application, and most per year, on one grass or for one target;
    '' = any. None = the label sets no such limit."""

    product_id: str
    grass: str
    target: str
    rate_most: Rate
    rate_least: Rate | None = None
    annual_most: Rate | None = None

    @property
    def about(self) -> str:
        """'on tall fescue for crabgrass', '' for any."""
        grass, target = self.grass and f"on {self.grass}", self.target and f"for {self.target}"
        return " ".join(filter(None, (grass, target)))


@dataclass(frozen=True)
class MixPart:
    """One product of a mix at its rate."""

    product_id: str
    rate: Rate
    target: str


@dataclass(frozen=True)
class Mix:
    """Products at stated rates in a stated carrier volume. targeted_liquid: as the states'
    fertilizer rules mean it."""

    mix_id: str
    name: str
    carrier_gal_per_1000_ft2: float
    new_mix: bool
    note: str
    parts: tuple[MixPart, ...]
    targeted_liquid: bool = False


class Scope(StrEnum):
    """What two mixes may not share on one day; a wider scope includes the narrower ones."""

    COMPARTMENT = "compartment"
    LINE = "line"
    TRUCK = "truck"


ANY_OTHER = "any other"
"""Written in keep_apart for 'everything that is not of the group or mix on the other side'."""


@dataclass(frozen=True)
class KeepApart:
    """Groups or mixes a and b may not share the scope. b may be ANY_OTHER."""

    a: str
    b: str
    scope: Scope
    why: str
