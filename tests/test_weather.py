"""Forecast hours turned into windows; every case worked by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from planner.compliance.weather import (
    Forecast,
    _reasons,
    closed_hours_text,
    forecast_at,
    limit_text,
    no_forecast,
    weather_limits,
    weather_windows,
)
from planner.day.clock import Window
from planner.day.day import Day, day_of
from planner.day.orders import WeatherHour
from planner.day.places import Property
from tests import days


def hour(at: int, *, day: int = 0, area: str = "", **changes: object) -> WeatherHour:
    """5 mph, 70 F and dry, `day` days after the tests' day."""
    base = WeatherHour(days.DAY + timedelta(days=day), at, area, 5.0, None, 70.0, 0.0, 0.0)
    return replace(base, **changes)  # type: ignore[arg-type]


def a_day(*rows: WeatherHour, area: str = "", **limits: object) -> Day:
    """One order O1 of MIX, whose product has the given limits; a second product has none."""
    house = days.home("P1", 40.0, -83.0, 5000.0, weather_area=area)
    book = days.workbook(
        sites=(days.site("Y1", 40.0, -83.0),),
        trucks=(),
        products=(
            days.product("limited", "g", "2 fl oz/1000 sq ft", **limits),
            days.product("plain", "h", "2 fl oz/1000 sq ft"),
        ),
        mixes=(
            days.mix("MIX", 2.0, limited="1 fl oz/1000 sq ft", plain="1 fl oz/1000 sq ft"),
            days.mix("FREE", 2.0, plain="1 fl oz/1000 sq ft"),
        ),
        properties=(house,),
        orders=(days.order("O1", house, "MIX"), days.order("O2", house, "FREE")),
        weather=rows,
    )
    return day_of(book, days.DAY)


def windows(day: Day, order_id: str = "O1") -> tuple[Window, ...] | None:
    return weather_windows(day, day.orders[order_id])


def open_hours(day: Day) -> list[int]:
    found = windows(day)
    assert found is not None
    return [at for one in found for at in range(int(one.open_min // 60), int(one.close_min // 60))]


def test_no_rows_no_limit_and_next_days_rows_do_not_count() -> None:
    assert windows(a_day(wind_most_mph=10.0)) is None
    assert windows(a_day(hour(8, day=1, wind_mph=40.0), wind_most_mph=10.0)) is None


def test_hours_that_fit_are_joined() -> None:
    rows = [hour(at, wind_mph=12.0 if at in (10, 13) else 8.0) for at in range(7, 16)]
    assert windows(a_day(*rows, wind_most_mph=10.0)) == (
        Window(420.0, 600.0),
        Window(660.0, 780.0),
        Window(840.0, 960.0),
    )


def test_gusts_count_against_most_and_not_for_least() -> None:
    rows = (
        hour(8, wind_mph=9.0, gust_mph=17.0),
        hour(9, wind_mph=2.0, gust_mph=9.0),
        hour(10, wind_mph=3.0, gust_mph=10.0),
    )
    assert open_hours(a_day(*rows, wind_most_mph=10.0, wind_least_mph=3.0)) == [10]


def test_temperature_ends_belong_to_the_range() -> None:
    rows = [hour(at, temperature_f=f) for at, f in enumerate((49.9, 50.0, 85.0, 85.1), start=8)]
    assert open_hours(a_day(*rows, temperature_least_f=50.0, temperature_most_f=85.0)) == [9, 10]


def test_rain_by_chance_or_amount_closes_its_hour_to_every_mix() -> None:
    rows = (
        hour(8, rain_chance_percent=49.0),
        hour(9, rain_chance_percent=50.0),
        hour(10, rain_chance_percent=10.0, rain_in=0.01),
        hour(11),
    )
    assert open_hours(a_day(*rows, wind_most_mph=10.0)) == [8, 11]
    # A mix without weather limits: hours without a row are open, wet ones are not.
    assert windows(a_day(*rows), "O2") == (Window(0.0, 540.0), Window(660.0, 1440.0))


def test_rain_free_hours_look_ahead_over_midnight_as_far_as_the_forecast_goes() -> None:
    rows = [hour(at) for at in range(18, 24)] + [hour(1, day=1, rain_in=0.1)]
    # 2.5 h is rounded up to 3: 22 looks at 23, 24, 25 (= 1 AM, wet); 21 looks at 22 to 24.
    assert open_hours(a_day(*rows, rain_free_hours=2.5)) == [18, 19, 20, 21]
    assert open_hours(a_day(*rows, rain_free_hours=0.5)) == [18, 19, 20, 21, 22, 23]


def test_a_missing_hour_of_a_day_with_rows_is_closed_to_a_mix_with_limits() -> None:
    assert open_hours(a_day(hour(8), hour(10), wind_most_mph=10.0)) == [8, 10]


def test_rows_of_the_area_go_before_rows_for_everywhere() -> None:
    rows = (
        hour(8, wind_mph=20.0),
        hour(8, area="north", wind_mph=5.0),
        hour(9, wind_mph=5.0),
        hour(9, area="north", wind_mph=20.0),
        hour(10, wind_mph=5.0),
        hour(11, area="south", wind_mph=5.0),
    )
    assert open_hours(a_day(*rows, area="north", wind_most_mph=10.0)) == [8, 10]
    assert open_hours(a_day(*rows, wind_most_mph=10.0)) == [9, 10]


def test_the_strictest_limit_of_the_products_counts() -> None:
    day = a_day()
    strict = replace(
        day.workbook.products["limited"], wind_most_mph=8.0, wind_least_mph=1.0, rain_free_hours=2
    )
    other = replace(
        day.workbook.products["plain"], wind_most_mph=12.0, wind_least_mph=3.0, rain_free_hours=6
    )
    book = replace(day.workbook, products={"limited": strict, "plain": other})
    limits = weather_limits(book, "MIX")
    assert (limits.wind_least_mph, limits.wind_most_mph, limits.rain_free_hours) == (3.0, 8.0, 6)


def reasons_at(day: Day, place: Property, hour: int, mix_id: str = "MIX") -> tuple[str, ...]:
    return tuple(text for _, text in _reasons(day, mix_id, place, hour, None))


def test_reasons_say_the_figure_and_the_limit() -> None:
    day = a_day(
        hour(8, wind_mph=12.0, gust_mph=17.0, temperature_f=90.0),
        hour(9),
        hour(11, rain_chance_percent=70.0),
        wind_most_mph=10.0,
        temperature_most_f=85.0,
        rain_free_hours=3.0,
    )
    place = day.workbook.properties["P1"]
    assert reasons_at(day, place, 8) == (
        "gusts 17 mph over 10",
        "90 F over 85",
        "rain 3 h later, 3 h must stay dry",
    )
    assert reasons_at(day, place, 9) == ("rain 2 h later, 3 h must stay dry",)
    assert reasons_at(day, place, 10) == ("no forecast",)
    assert reasons_at(day, place, 11) == ("rain (70 % chance)",)
    assert closed_hours_text(day, day.orders["O1"], [8, 9, 10]) == (
        "rain 3 h later, 3 h must stay dry at 8 AM (2 of 3 hours); "
        "gusts 17 mph over 10 at 8 AM (1 of 3 hours); 90 F over 85 at 8 AM (1 of 3 hours); "
        "no forecast at 10 AM (1 of 3 hours)"
    )


def test_limits_as_one_sentence() -> None:
    book = a_day(
        wind_least_mph=3.0, wind_most_mph=10.0, temperature_most_f=85.0, rain_free_hours=4.0
    ).workbook
    assert limit_text(book, "MIX") == (
        "Wind 3 to 10 mph (label of limited), gusts too; at most 85 F; no rain for 4 h after; "
        "not in rain."
    )
    assert limit_text(book, "FREE") == (
        "Wind at most 10 mph (the office's limit), gusts too; not in rain. "
        "No label sets a most wind: best is 3 to 8 mph, away from sensitive places."
    )


def test_the_office_limits_the_wind_where_no_label_does() -> None:
    """10 mph by default, 12 by the setting; an hour without forecast stays open as before."""
    day = a_day(hour(8, wind_mph=10.0), hour(9, wind_mph=9.0, gust_mph=11.0))
    home = day.workbook.properties["P1"]
    assert reasons_at(day, home, 8, "FREE") == ()
    assert reasons_at(day, home, 9, "FREE") == ("gusts 11 mph over 10, the office's limit",)
    assert reasons_at(day, home, 10, "FREE") == ()
    own = replace(day.workbook.settings, wind_most_mph=12.0)
    other = replace(day, workbook=replace(day.workbook, settings=own))
    assert reasons_at(other, home, 9, "FREE") == ()


def test_forecast_at_the_minute_of_a_stop() -> None:
    day = a_day(hour(8), hour(1, day=1, wind_mph=9.0))
    place = day.workbook.properties["P1"]
    found = forecast_at(day, place, 8 * 60 + 59.9, Forecast(day.weather))
    assert found == hour(8)
    assert forecast_at(day, place, 9 * 60) is None
    assert forecast_at(day, place, 25 * 60) == hour(1, day=1, wind_mph=9.0)


def test_that_nothing_was_checked_is_said() -> None:
    other = hour(8, day=1)
    assert no_forecast(a_day(other)).startswith("No forecast for this day: wind, temperature and ")
    assert no_forecast(a_day(hour(8), area="north")) == ""
    half = a_day(hour(8, area="north"), area="north")
    south = days.home("P2", 40.0, -83.0, 5000.0, weather_area="south")
    book = half.workbook
    order = days.order("O3", south, "MIX")
    book = replace(
        book,
        properties={**book.properties, "P2": south},
        orders={**book.orders, "O3": order},
    )
    assert no_forecast(day_of(book, days.DAY)).startswith(
        "No forecast for this day in weather area south: "
    )
