"""Orders, hourly weather and past applications; programs: the rounds of a season, who has which,
and the daily temperatures that time them."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Final

from planner.day.clock import Window
from planner.units import Amount


class Status(StrEnum):
    """What the office says of an order; what is done stands in the records."""

    OPEN = "open"
    ON_HOLD = "on hold"
    CANCELLED = "cancelled"


@dataclass(frozen=True)
class Order:
    """One mix due at one property.

    windows: when the crew may be there, None = any time. only_trucks: None = any truck. hold_until:
    first day after an order's hold, None = until it is cleared. last_day: the last sensible day,
    None = it stays due until it is done. revenue: in the settings' currency, None = not known.
    repeats: the order that this one does again free of charge. part_of: the order of the tables of
    which this is a part, with its share (rule 39); '' = it is whole. unlicensed_trucks: of
    never_trucks those on which nobody may do it by license (rule 35), license_only: those of them
    that the table allows; license_asked: what they lack, in words.
    """

    order_id: str
    property_id: str
    mix_id: str
    due_from: date
    due_to: date
    area_ft2: float
    windows: tuple[Window, ...] | None
    priority: int
    only_trucks: frozenset[str] | None
    never_trucks: frozenset[str]
    note: str
    status: Status = Status.OPEN
    hold_until: date | None = None
    status_reason: str = ""
    last_day: date | None = None
    revenue: float | None = None
    repeats: str | None = None
    part_of: str = ""
    share: float = 1.0
    unlicensed_trucks: frozenset[str] = frozenset()
    license_only: frozenset[str] = frozenset()
    license_asked: str = ""

    @property
    def whole_id(self) -> str:
        """Its id in the tables."""
        return self.part_of or self.order_id

    def allows(self, truck_id: str) -> bool:
        """Whether the table allows the truck, licenses aside."""
        may = truck_id not in self.never_trucks or truck_id in self.license_only
        return may and (self.only_trucks is None or truck_id in self.only_trucks)

    def is_open(self, when: date) -> bool:
        """Whether it may still be done from that day on."""
        gone = self.last_day is not None and self.last_day < when
        return self.status is not Status.CANCELLED and not gone


@dataclass(frozen=True)
class WeatherHour:
    """Forecast for the hour that begins at `hour` o'clock in one weather area ('' = everywhere).
    wind_from: a point of the compass."""

    day: date
    hour: int
    area: str
    wind_mph: float
    gust_mph: float | None
    temperature_f: float
    rain_chance_percent: float
    rain_in: float
    wind_from: str | None = None


GROUND_STATES: Final = ("frozen", "saturated", "snow", "frost", "dormant")
"""What ground can be."""


@dataclass(frozen=True)
class GroundDay:
    """The ground of one day in one weather area ('' = everywhere). state: of
    GROUND_STATES; soil_temperature_f: None = not measured."""

    day: date
    area: str
    state: tuple[str, ...]
    soil_temperature_f: float | None


@dataclass(frozen=True)
class PastApplication:
    """One product applied at one property on one day. end_min: when the spraying ended, None = no
    record tells; rest_of: the order that it did a part of, whose rest is still to be done, '' = of
    none."""

    property_id: str
    product_id: str
    day: date
    area_ft2: float
    amount: Amount
    end_min: float | None = None
    rest_of: str = ""


MonthDay = tuple[int, int]
"""A day of any year: month and day of the month."""


class HeatMethod(StrEnum):
    """How a day's high and low make degree days."""

    SIMPLE = "simple average"
    MODIFIED = "modified average"


@dataclass(frozen=True)
class ProgramRound:
    """One round of a program. from_day, to_day: first and last day on which it makes sense; to_day
    may lie in the next year. degree_days_from, degree_days_to: since degree_day_start; with both
    kinds, the narrower window counts. days_least, days_most: since the round before was done, None
    = no limit. price: flat per visit; price_per_1000_ft2: of treated lawn; None = not known."""

    program_id: str
    number: int
    name: str
    mix_id: str
    from_day: MonthDay | None
    to_day: MonthDay | None
    degree_days_from: float | None
    degree_days_to: float | None
    degree_day_base_f: float
    degree_day_start: MonthDay
    degree_day_method: HeatMethod
    days_least: int | None
    days_most: int | None
    price: float | None
    price_per_1000_ft2: float | None
    priority: int

    @property
    def key(self) -> str:
        """As rows of the table are keyed."""
        return f"{self.program_id}/{self.number}"

    def revenue(self, area_ft2: float) -> float | None:
        """What one visit brings; None = no price is given."""
        if self.price is None and self.price_per_1000_ft2 is None:
            return None
        return (self.price or 0.0) + (self.price_per_1000_ft2 or 0.0) * area_ft2 / 1000.0


@dataclass(frozen=True)
class PropertyProgram:
    """A property on a program. area_ft2: that it treats, None = the whole lawn. first_day,
    last_day: between which the customer has it, None = open. skip_rounds: not wanted; reason: why
    they are skipped or why it ends."""

    property_id: str
    program_id: str
    area_ft2: float | None
    first_day: date | None
    last_day: date | None
    skip_rounds: frozenset[int]
    reason: str


@dataclass(frozen=True)
class DayTemperatures:
    """Lowest and highest air temperature of a day in one weather area ('' = everywhere)."""

    day: date
    area: str
    low_f: float
    high_f: float
