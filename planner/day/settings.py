"""The office's settings; defaults stand in columns.csv."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from planner.day.clock import DateSpan
from planner.day.fleet import YardLoading


@dataclass(frozen=True)
class Settings:
    """One value per row of the settings table; meanings stand in columns.csv. working_days: 0 =
    Monday."""

    company: str
    phone: str
    state: str
    business_license: str
    currency: str
    setup_min_per_visit: float
    fill_margin_percent: float
    rinse_count: int
    rinse_water_percent: float
    rinse_min_each: float
    rinsate_goes_to: str
    straight_line_factor: float
    straight_line_speed_mph: float
    road_time_factor: float
    far_from_road_ft: float
    pay_per_hour: float
    overtime_factor: float
    cost_per_mile: float
    unserved_price_1: float
    unserved_price_2: float
    unserved_price_3: float
    usual_truck_price: float
    keep_price: float
    refill_price: float
    balance_price: float
    compact_price: float
    told_within_min: float
    told_price: float
    rain_counts_from_percent: float
    water_lb_per_gal: float
    working_days: tuple[int, ...]
    holidays: tuple[DateSpan, ...]
    work_ahead_days: int
    work_ahead_price: float
    meter_error_percent: float
    wind_most_mph: float
    poison_center_phone: str
    spill_phone: str
    business_license_until: date | None = None
    leave_behind: bool = False
    time_zone: str | None = None
    license_categories: tuple[str, ...] = ()
    hoses_overnight: Literal["full", "drained"] = "full"
    inspection_min: float = 0.0
    yard_loading: YardLoading | None = None
    washdown_min: float = 0.0
    paperwork_min: float = 0.0
    paid_hours_least: float = 0.0

    def unserved_price(self, priority: int) -> float:
        """Price of leaving out an order of priority 1, 2 or 3; raises KeyError."""
        return {1: self.unserved_price_1, 2: self.unserved_price_2, 3: self.unserved_price_3}[
            priority
        ]
