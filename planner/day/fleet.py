"""Trucks, their lines (pump, hose, gun) and their compartments; people who spray and drive, and
people who must be told before a spray; the office's settings, whose defaults stand in
columns.csv."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Final, Literal

from planner.day.clock import DateSpan


@dataclass(frozen=True)
class Caught:
    """Mix that stands in a service container since it was caught from a hose. from_truck: hands it
    over in the morning, '' = it stands on the truck itself."""

    mix_id: str
    gal: float
    from_truck: str = ""


YardLoading = Literal["morning", "evening"]
"""When a truck is filled for its day: in the morning, or the evening before."""


@dataclass(frozen=True)
class Line:
    """One pump, hose and gun. hose_mix: what its hose holds in the morning, None = empty."""

    line_id: str
    hose_ft: float
    hose_inside_diameter_in: float
    gun_gal_per_min: float
    pump_gal_per_min: float | None
    pump_psi: float | None
    hose_mix: str | None = None

    @property
    def hose_gal(self) -> float:
        """Gallons that the full hose holds (231 in3 to the gallon)."""
        return math.pi / 4 * self.hose_inside_diameter_in**2 * self.hose_ft * 12 / 231


USUAL_GAUGE_STEPS: Final = ((50.0, 1.0), (500.0, 5.0), (math.inf, 10.0))
"""Under so many gallons of capacity, a gauge has a mark every so many gallons."""


@dataclass(frozen=True)
class Compartment:
    """One separate tank volume. last_mix: None = clean; leftover_gal counts the heel.
    rear_share_percent: of its contents' weight, on the rear axle (over 100 behind it); None = not
    known. gauge_step_gal: gallons between two marks of its gauge, None = as `gauge_step`."""

    compartment_id: str
    capacity_gal: float
    heel_gal: float
    line_id: str
    position: int
    reserved_for: str | None
    last_mix: str | None
    leftover_gal: float
    rear_share_percent: float | None = None
    gauge_step_gal: float | None = None

    @property
    def gauge_step(self) -> float:
        """Gallons between two marks of the gauge; without a figure 1 under 50 gal, 5 up to 500,
        else 10 (common practice, no source)."""
        if self.gauge_step_gal is not None:
            return self.gauge_step_gal
        return next(step for below, step in USUAL_GAUGE_STEPS if self.capacity_gal < below)

    @property
    def usable_gal(self) -> float:
        """Gallons that the pump can reach when full."""
        return self.capacity_gal - self.heel_gal


@dataclass(frozen=True)
class Truck:
    """A truck with its lines and compartments (in the order of their valve positions).
    front_empty_lb: of its empty weight, on the front axle; front_gawr_lb, rear_gawr_lb: axle
    ratings; None = not known. inspection_until, backflow_test_until, calibration_until: last good
    days, None = not written down. inspection_min to paid_hours_least: its yard clock (rule 38), the
    office's settings filled in; yard_loading: 'morning', 'evening' or None (takes no time).
    table_license, supervisor: of the people it names, as applicators has them (of those without a
    license, who supervises and that person's number). service_containers: what stands in them in
    the morning. out_on: days on which it stays in the yard."""

    truck_id: str
    name: str
    yard_id: str
    shift_start_min: float
    shift_end_min: float
    overtime_most_min: float
    lunch_min: float
    lunch_earliest_min: float | None
    lunch_latest_min: float | None
    crew: int
    applicator: str
    applicator_license: str
    empty_weight_lb: float
    gvwr_lb: float
    height_ft: float | None
    cost_per_day: float
    cost_per_mile: float
    pay_per_hour: float
    lines: tuple[Line, ...]
    compartments: tuple[Compartment, ...]
    front_empty_lb: float | None = None
    front_gawr_lb: float | None = None
    rear_gawr_lb: float | None = None
    phone: str = ""
    length_ft: float | None = None
    width_ft: float | None = None
    inspection_until: date | None = None
    backflow_test_until: date | None = None
    calibration_until: date | None = None
    inspection_min: float = 0.0
    yard_loading: YardLoading | None = None
    washdown_min: float = 0.0
    paperwork_min: float = 0.0
    paid_hours_least: float = 0.0
    table_license: str = ""
    supervisor: str = ""
    service_containers: tuple[Caught, ...] = ()
    out_on: tuple[DateSpan, ...] = ()

    @property
    def license(self) -> str:
        """License number of who sprays: the truck's own cell, else the one in applicators."""
        return self.applicator_license or self.table_license

    @property
    def signature(self) -> str:
        """'Kim Example, license L-1', 'Bo Roe, supervised by Kim Example, license L-1'; '' = not
        written down."""
        led = f"supervised by {self.supervisor}" if self.supervisor else ""
        number = f"license {self.license}" if self.license else ""
        return ", ".join(filter(None, (self.applicator, led, number)))

    @property
    def title(self) -> str:
        """What sheets and map call it: 'Truck T1 Juniper', 'T1 Truck 1, old', 'Truck 3'."""
        own, name = self.truck_id.casefold(), self.name.casefold()
        if not name or f"{own} ".startswith(f"{name} "):
            words = self.truck_id
        elif f"{name} ".startswith(f"{own} "):
            words = self.name
        else:
            words = f"{self.truck_id} {self.name}"
        return words if own.startswith("truck") or name.startswith("truck") else f"Truck {words}"

    @property
    def ready_lb(self) -> float:
        """Pounds before any mix is on board. The audit adds them up by itself (`unloaded_lb`); of
        axle loads, what is not front_empty_lb rests on the rear."""
        return self.empty_weight_lb

    @property
    def payload_lb(self) -> float:
        """Pounds of mix that the rating leaves."""
        return self.gvwr_lb - self.ready_lb

    @property
    def latest_return_min(self) -> float:
        """Minute by which it must be back, overtime included."""
        return self.shift_end_min + self.overtime_most_min - self.closing_min

    @property
    def inspected_min(self) -> float:
        """Minute at which it is inspected, and may be loaded."""
        return self.shift_start_min + self.inspection_min

    @property
    def closing_min(self) -> float:
        """Minutes from its return until its crew is released."""
        return self.washdown_min + self.paperwork_min

    @property
    def hose_mix(self) -> dict[str, str | None]:
        """By line, what its hose holds in the morning, None = empty."""
        return {line.line_id: line.hose_mix for line in self.lines}

    @property
    def clean(self) -> Truck:
        """The truck with nothing in its compartments, hoses and service containers."""
        tanks = tuple(replace(one, last_mix=None, leftover_gal=0.0) for one in self.compartments)
        lines = tuple(replace(one, hose_mix=None) for one in self.lines)
        return replace(self, compartments=tanks, lines=lines, service_containers=())

    def line(self, line_id: str) -> Line:
        """The line of that name; raises KeyError."""
        for line in self.lines:
            if line.line_id == line_id:
                return line
        raise KeyError(line_id)

    def compartment(self, compartment_id: str) -> Compartment:
        """The compartment of that name; raises KeyError."""
        for compartment in self.compartments:
            if compartment.compartment_id == compartment_id:
                return compartment
        raise KeyError(compartment_id)


@dataclass(frozen=True)
class Applicator:
    """A person of the crews. name: as trucks.applicator has it; license_until, training_until,
    medical_card_until: the last good days, None = not written down; cdl_class: 'A', 'B', 'C',
    'none' or None = not written down; supervisor: of a person without a license, by name; state: of
    the license (a person has a row for each), '' = good in every state."""

    name: str
    license: str = ""
    categories: tuple[str, ...] = ()
    license_until: date | None = None
    training_until: date | None = None
    medical_card_until: date | None = None
    cdl_class: str | None = None
    supervisor: str = ""
    state: str = ""

    @property
    def of_license(self) -> str:
        """'Kim Example's license', 'Kim Example's OH license'."""
        return " ".join(filter(None, (f"{self.name}'s", self.state, "license")))

    @property
    def number(self) -> str:
        """The license's number with its state, '' = none."""
        return " ".join(filter(None, (self.state, self.license))) if self.license.strip() else ""

    def good_in(self, state: str) -> bool:
        """Whether the license is one of that state."""
        return self.state in ("", state)


def names_in(cell: str) -> tuple[str, ...]:
    """The people that a cell names: 'Ann Lee; Bo Roe' are two."""
    parts = re.split(r"[;,/&+]|\band\b", cell)
    return tuple(" ".join(part.split()) for part in parts if part.strip())


def people_named(cell: str, people: Iterable[Applicator]) -> tuple[Applicator, ...]:
    """The rows of people whose name stands in the cell, whole or as one of several; capitals and
    spaces do not count."""
    wanted = {" ".join(name.split()).casefold() for name in (cell, *names_in(cell))}
    return tuple(one for one in people if " ".join(one.name.split()).casefold() in wanted)


def signs(cell: str, applicators: Sequence[Applicator]) -> tuple[str, str]:
    """License numbers under which the people that the cell names work, and who supervises them
    where none of them has a license; '' = not written down."""
    crew = people_named(cell, applicators)
    own = [one for one in crew if one.license.strip()]
    led = own or [boss for one in crew for boss in people_named(one.supervisor, applicators)]
    numbers = dict.fromkeys(one.number for one in led if one.number)
    names = dict.fromkeys(one.name for one in led if not own)
    return ", ".join(numbers), " and ".join(names)


@dataclass(frozen=True)
class Registered:
    """Someone who must be told before a spray nearby. lat, lon with radius_ft, and
    listed_addresses: what it is near to; state: '' = any; lead_least_h, lead_most_h: hours before
    the visit, None = as the state says, and any time before."""

    name: str
    phone: str = ""
    email: str = ""
    address: str = ""
    lat: float | None = None
    lon: float | None = None
    radius_ft: float | None = None
    listed_addresses: tuple[str, ...] = ()
    state: str = ""
    lead_least_h: float | None = None
    lead_most_h: float | None = None


@dataclass(frozen=True)
class Called:
    """One attempt to tell someone of a day's sprays, as the records have it. stops: what it was
    about, in words, '' = everything; called_on: ISO date; called_at: 16:15; caller: '' = not
    stated; call_by: its last moment, '2027-04-13 16:00', '' = not stated."""

    person: str
    stops: str
    called_on: str
    called_at: str
    outcome: str
    caller: str = ""
    call_by: str = ""

    @property
    def late(self) -> bool:
        """Whether it came after its last moment, as far as that can be read."""
        # Spreadsheet programs write dates as they like; 24:00, which strptime does not know, is
        # after every moment of its day.
        at = f"{self.called_on} {self.called_at}"
        for written in ("%Y-%m-%d %H:%M", "%m/%d/%Y %H:%M"):
            with suppress(ValueError):
                return at > f"{datetime.strptime(self.call_by, written):%Y-%m-%d %H:%M}"
        return False

    @property
    def text(self) -> str:
        """'reached 2027-04-13 16:15 (Kim), LATE: by 2027-04-13 16:00'."""
        who = f" ({self.caller})" if self.caller else ""
        late = f", LATE: by {self.call_by}" if self.late else ""
        return f"{self.outcome} {self.called_on} {self.called_at}{who}{late}"


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
