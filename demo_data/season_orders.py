"""Orders of the demo season: four rounds of the spring, one week of each."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from random import Random

from demo_customers import Customer
from demo_orders import WINDOWS, OrderRow
from town_geometry import Point

ROUNDS = tuple(dt.date(2027, month, day) for month, day in ((3, 22), (4, 12), (5, 3), (5, 24)))
"""Mondays, three weeks apart: the least days between two feedings of the demo's labels are 21."""


WORKING_DAYS = tuple(monday + dt.timedelta(days=k) for monday in ROUNDS for k in range(5))


# What a customer has bought, round by round; weight. Broadleaf work never comes twice within 28
# days, the barrier once a year.
PROGRAMS = (
    (("PRE", "BROAD", "GREEN", "INSECT"), 38),
    (("PRE", "GREEN", "BROAD", "DISEASE"), 26),
    (("GREEN", "PRE", "BROAD", "GREEN"), 16),
    (("PRE", "GREEN", "GREEN", "BROAD"), 12),
    (("PRE", "", "INSECT", "GREEN"), 8),
)


SPOTS_A_DAY = (4, 8)
"""Least and most second orders for gravel and bed edges on a day."""


STAYS_IN_ITS_AREA = 0.85
"""Share of the customers who are done on their area's day; the others asked for another."""


@dataclass(frozen=True)
class SeasonHome:
    """A customer with the weekday of every visit (0 = Monday) and the mixes of the rounds ('' =
    none)."""

    customer: Customer
    weekday: int
    mixes: tuple[str, ...]


def season_homes(customers: list[Customer], yard: Point, random: Random) -> list[SeasonHome]:
    """Every customer's weekday, by the direction from the yard, and program."""
    around = sorted(customers, key=lambda home: _bearing(yard, home.address.at))
    programs = [mixes for mixes, _ in PROGRAMS]
    weights = [weight for _, weight in PROGRAMS]
    weekday_of = {
        home.property_id: k * 5 // len(around)
        if random.random() < STAYS_IN_ITS_AREA
        else random.randrange(5)
        for k, home in enumerate(around)
    }
    return [
        SeasonHome(home, weekday_of[home.property_id], random.choices(programs, weights)[0])
        for home in customers
    ]


def _bearing(yard: Point, at: Point) -> float:
    return math.atan2(at[1] - yard[1], at[0] - yard[0])


def orders_of_day(homes: list[SeasonHome], day: dt.date, random: Random) -> list[OrderRow]:
    """The orders of one working day: one at each property of the weekday, and the spots."""
    monday = day - dt.timedelta(days=day.weekday())
    number = ROUNDS.index(monday)
    main = [
        OrderRow(home.customer, home.mixes[number], None, _cells(home.mixes[number], day, random))
        for home in homes
        if home.weekday == day.weekday() and home.mixes[number]
    ]
    spots = random.sample(
        [order for order in main if order.customer.lawn_ft2 < 20_000],
        random.randint(*SPOTS_A_DAY),
    )
    result = []
    for order in main:
        result.append(order)
        if order in spots:
            result.append(_spot(order, random))
    return result


def _cells(mix: str, day: dt.date, random: Random) -> dict[str, str]:
    cells = {"date": day.isoformat(), "priority": random.choice(("1", "2", "2", "2", "2", "3"))}
    # Some afternoons are too windy for broadleaf work: such an order gets no afternoon window.
    if random.random() < 0.2:
        cells["windows"] = random.choice(WINDOWS[:4] if mix == "BROAD" else WINDOWS)
    return cells


def _spot(first: OrderRow, random: Random) -> OrderRow:
    cells = {"date": first.more["date"], "priority": "2", "windows": first.more.get("windows", "")}
    cells["note"] = random.choice(
        ("Gravel drive edge", "Bed edges and walk joints", "Fence line behind the shed")
    )
    return OrderRow(first.customer, "TOTAL", random.randrange(300, 1_501, 50), cells)


WIND = (3, 3, 4, 4, 5, 5, 6, 6, 7, 7, 7, 6, 6, 5, 4)
"""Wind in mph of the hours from 6 to 20 o'clock on a plain day."""


TEMPERATURE_RISE = (0, 1, 3, 6, 9, 12, 14, 16, 17, 18, 17, 16, 14, 11, 9)


MORNING_F = (42, 46, 52, 58)
"""Temperature at 6 o'clock in each round."""


WINDY = (dt.date(2027, 4, 14), dt.date(2027, 5, 6))
"""Over 10 mph from 2 pm: broadleaf work has to be done by then."""


RAINY = (dt.date(2027, 3, 25), dt.date(2027, 5, 27))
"""Rain from 6 pm on."""


def season_weather() -> list[dict[str, str]]:
    """Fifteen hours of each working day; plain but for a few days."""
    rows = []
    for day in WORKING_DAYS:
        morning_f = MORNING_F[WORKING_DAYS.index(day) // 5]
        for k, hour in enumerate(range(6, 21)):
            wind = WIND[k] + (5 if day in WINDY and hour >= 14 else 0)
            wet = day in RAINY and hour >= 18
            rows.append(
                {
                    "date": day.isoformat(),
                    "hour": str(hour),
                    "wind_mph": str(wind),
                    "gust_mph": str(wind + 2),
                    "temperature_f": str(morning_f + TEMPERATURE_RISE[k]),
                    "rain_chance_percent": "80" if wet else "10",
                    "rain_in": "0.1" if wet else "0",
                }
            )
    return rows
