"""The weather service's hourly JSON into the weather table: a saved file, and a loopback server.

The form of the JSON follows the service's published schema; its figures are invented.
"""

from __future__ import annotations

import contextlib
import json
import shutil
import socket
import threading
from collections.abc import Iterator
from datetime import date
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest
from click.testing import CliRunner

from planner.cli.main import main
from planner.day.orders import WeatherHour
from planner.forecast_service import fetch_forecast
from planner.tables.forecast import (
    ForecastError,
    merged_weather,
    read_forecast,
    weather_csv,
)
from planner.tables.read import read_workbook
from tests.bad_workbooks import BASE


def period(hour: int, **changes: object) -> dict[str, object]:
    fields: dict[str, object] = {
        "startTime": f"2027-04-14T{hour:02d}:00:00-04:00",
        "endTime": f"2027-04-14T{hour + 1:02d}:00:00-04:00",
        "temperature": 61,
        "temperatureUnit": "F",
        "probabilityOfPrecipitation": {"unitCode": "wmoUnit:percent", "value": 20},
        "windSpeed": "6 mph",
        "windDirection": "SW",
        "shortForecast": "Mostly Sunny",
    }
    return fields | changes


def hourly(*periods: object) -> str:
    return json.dumps({"type": "Feature", "properties": {"periods": list(periods)}})


def test_an_hour_as_the_service_writes_it() -> None:
    found = read_forecast(hourly(period(8)), "valley")
    assert found.hours == (WeatherHour(date(2027, 4, 14), 8, "valley", 6.0, None, 61.0, 20.0, 0.0),)
    assert found.left_out == 0


@pytest.mark.parametrize(
    ("changes", "wind", "gust", "temperature"),
    [
        ({"windSpeed": "5 to 10 mph"}, 5.0, 10.0, 61.0),
        ({"windSpeed": "5 to 10 mph", "windGust": "18 mph"}, 5.0, 18.0, 61.0),
        ({"windGust": None}, 6.0, None, 61.0),
        # Values with units: 16.093 km/h are 10 mph, 20 C are 68 F (worked by hand).
        (
            {
                "windSpeed": {"unitCode": "wmoUnit:km_h-1", "value": 16.09344},
                "windGust": {"unitCode": "wmoUnit:m_s-1", "value": 8.9408},
                "temperature": {"unitCode": "wmoUnit:degC", "value": 20},
            },
            10.0,
            20.0,
            68.0,
        ),
        ({"temperature": 20, "temperatureUnit": "C"}, 6.0, None, 68.0),
    ],
)
def test_winds_and_temperatures(
    changes: dict[str, object], wind: float, gust: float | None, temperature: float
) -> None:
    (row,) = read_forecast(hourly(period(8, **changes))).hours
    assert (row.wind_mph, row.gust_mph, row.temperature_f) == (wind, gust, temperature)


def test_longer_periods_and_local_time() -> None:
    long = period(22, endTime="2027-04-15T01:00:00-04:00")
    rows = read_forecast(hourly(long)).hours
    assert [(row.day.day, row.hour) for row in rows] == [(14, 22), (14, 23), (15, 0)]


@pytest.mark.parametrize(
    "changes",
    [
        {"windSpeed": None},
        {"windSpeed": "light"},
        {"temperature": None},
        {"temperature": 20, "temperatureUnit": "K"},
        {"startTime": "tomorrow"},
        {"temperature": float("nan")},
        {"endTime": "2028-04-14T09:00:00-04:00"},
    ],
)
def test_a_period_without_a_figure_is_left_out_and_counted(changes: dict[str, object]) -> None:
    found = read_forecast(hourly(period(8, **changes), period(9), "?"))
    assert [row.hour for row in found.hours] == [9]
    assert found.left_out == 2
    with pytest.raises(ForecastError, match="no hour"):
        read_forecast(hourly(period(8, **changes)))


@pytest.mark.parametrize("text", ["", "<html>", "[]", "{}", '{"properties": 3}', "[" * 100_000])
def test_what_is_no_forecast(text: str) -> None:
    with pytest.raises(ForecastError):
        read_forecast(text)


def test_repeated_hour_of_autumn_keeps_the_windier() -> None:
    first = period(1, startTime="2027-11-07T01:00:00-04:00", endTime=None)
    again = period(1, startTime="2027-11-07T01:00:00-05:00", endTime=None, windSpeed="12 mph")
    (row,) = read_forecast(hourly(again, first)).hours
    assert row.wind_mph == 12.0


def test_new_hours_lie_over_the_old_ones() -> None:
    old = read_forecast(hourly(period(8), period(9))).hours
    new = read_forecast(hourly(period(9, windSpeed="14 mph"), period(10))).hours
    rows, replaced = merged_weather(old, new)
    assert [(row.hour, row.wind_mph) for row in rows] == [(8, 6.0), (9, 14.0), (10, 6.0)]
    assert replaced == 1


@pytest.fixture
def book(tmp_path: Path) -> Path:
    target = tmp_path / "book"
    shutil.copytree(BASE, target)
    (target / "weather.csv").unlink(missing_ok=True)
    return target


@pytest.fixture
def server() -> Iterator[tuple[str, list[str]]]:
    """A forecast service on this machine, and the User-Agent headers that it saw."""
    callers: list[str] = []

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            callers.append(self.headers["User-Agent"])
            good = self.path == "/forecast/hourly"
            body = hourly(period(8), period(9, windSpeed="9 mph")).encode()
            self.send_response(200 if good else 503)
            self.end_headers()
            self.wfile.write(body if good else b"busy")

        def log_message(self, *args: object) -> None:
            return

    service = HTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=service.serve_forever, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{service.server_port}", callers
    service.shutdown()
    thread.join()
    service.server_close()


def run(*args: object) -> tuple[int, str]:
    result = CliRunner().invoke(main, ["forecast", *map(str, args)])
    return result.exit_code, result.output


def test_a_saved_file_becomes_the_weather_table(book: Path, tmp_path: Path) -> None:
    saved = tmp_path / "hourly.json"
    saved.write_text(hourly(period(8), period(9)))
    assert run(book, "--from", saved) == (
        0,
        f"2 hours from 2027-04-14 8:00 to 2027-04-14 9:00 are in {book / 'weather.csv'} "
        "(0 replaced).\n",
    )
    reading = read_workbook(book)
    assert reading.problems == ()
    assert reading.workbook is not None
    assert reading.workbook.weather == read_forecast(saved.read_text()).hours
    # A second area lies beside the first; a comma in its name is quoted.
    assert run(book, "--from", saved, "--area", "hill, north")[0] == 0
    again = read_workbook(book).workbook
    assert again is not None
    assert [row.area for row in again.weather] == ["", "", "hill, north", "hill, north"]
    assert weather_csv(again.weather) == (book / "weather.csv").read_text()


def test_a_configured_address(book: Path, server: tuple[str, list[str]]) -> None:
    address, callers = server
    (book / "planner.toml").write_text(
        f'[forecast]\naddress = "{address}/forecast/hourly"\ncontact = "office@lawns.example"\n'
    )
    code, output = run(book)
    assert (code, "2 hours" in output) == (0, True)
    assert callers == ["lawn-spray-day-planner (office@lawns.example)"]
    with pytest.raises(ForecastError, match="503"):
        fetch_forecast(f"{address}/busy", "")


def test_nothing_is_asked_for_unless_configured(book: Path) -> None:
    code, output = run(book)
    assert code == 2
    assert "no forecast is named" in output
    assert not (book / "weather.csv").exists()


@pytest.mark.parametrize("address", ["file:///etc/hostname", "ftp://127.0.0.1/x", "hourly.json"])
def test_only_web_addresses(address: str) -> None:
    with pytest.raises(ForecastError, match="no address"):
        fetch_forecast(address, "")


def test_a_bad_file_changes_nothing(book: Path, tmp_path: Path) -> None:
    saved = tmp_path / "hourly.json"
    saved.write_text("busy")
    code, output = run(book, "--from", saved)
    assert code == 1
    assert "no JSON" in output
    assert not (book / "weather.csv").exists()
    (book / "planner.toml").write_text("[forecast]\nadress = 3\n")
    code, output = run(book, "--from", saved)
    assert code == 1
    assert "adress" in output


@pytest.mark.parametrize(
    "changes",
    [
        {"probabilityOfPrecipitation": {"value": 999}},
        {"probabilityOfPrecipitation": {"value": -1}},
        {"windSpeed": "9" * 400 + " mph"},
        {"startTime": "9999-12-31T23:00:00", "endTime": "9999-12-31T23:59:00"},
        {"startTime": "0001-01-01T00:00:00+14:00"},
    ],
)
def test_what_no_weather_is_like_is_left_out(changes: dict[str, object]) -> None:
    found = read_forecast(hourly(period(8, **changes), period(9)))
    assert (len(found.hours), found.left_out) == (1, 1)


def test_an_end_without_a_zone_beside_a_begin_that_has_one() -> None:
    one = period(8)
    one["endTime"] = str(one["startTime"])[:11] + "09:00:00"
    assert len(read_forecast(hourly(one)).hours) == 1


def test_an_answer_that_trickles_in_is_waited_for_no_longer() -> None:
    """A header a byte at a time would begin the socket's own time-out anew for ever."""
    with socket.create_server(("127.0.0.1", 0)) as server:

        def trickle() -> None:
            with contextlib.suppress(OSError):
                peer, _ = server.accept()
                while True:
                    peer.sendall(b"X")
                    stop.wait(0.05)

        stop = threading.Event()
        threading.Thread(target=trickle, daemon=True).start()
        with pytest.raises(ForecastError, match="takes too long"):
            fetch_forecast(f"http://127.0.0.1:{server.getsockname()[1]}/", "x", timeout_s=0.2)
