"""`planner locate`: the command, the copy that it writes, and the service on a loopback server.

The server is ours and stands for any Nominatim-compatible one; what it answers is worked by hand.
The form of an answer (lat, lon, display_name, address with house_number and road) is that of
https://nominatim.org/release-docs/latest/api/Output/."""

from __future__ import annotations

import csv
import functools
import json
import shutil
import threading
import time
from collections.abc import Callable, Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import pytest
from click.testing import CliRunner

from planner import locating
from planner.cli.main import main
from planner.roads import address_service
from planner.roads.address_book import Sureness
from planner.roads.address_service import AddressService, ServiceConfig
from planner.roads.addresses import Question
from planner.tables.office import load_office_file
from planner.tables.read import read_workbook
from tests.bad_workbooks import BASE
from tests.excel import excel_of

ROOT = Path(__file__).resolve().parents[1]
DEMO = ROOT / "demo_data" / "spring_day"
TOWN = ROOT / "maps" / "alder-mills.osm.pbf"
ELM = Question("12 Elm St", "Alder", "OH", "43001")

Solution = Callable[[dict[str, str]], tuple[int, bytes]]


read_once = functools.cache(locating.read_address_book)


@pytest.fixture(autouse=True)
def own_cache(tmp_path, monkeypatch):
    monkeypatch.setenv("PLANNER_CACHE_DIR", str(tmp_path / "cache"))
    monkeypatch.setattr(locating, "read_address_book", read_once)
    for name in ("http_proxy", "HTTP_PROXY", "all_proxy", "ALL_PROXY"):
        monkeypatch.delenv(name, raising=False)


def place(number: str = "12", lat: object = "40.1", lon: object = "-83.2") -> dict[str, object]:
    return {
        "lat": lat,
        "lon": lon,
        "display_name": f"{number}, Elm Street, Alder, Ohio",
        "address": {"house_number": number, "road": "Elm Street"},
    }


def says(value: object) -> Solution:
    return lambda query: (200, json.dumps(value).encode())


class Server:
    """A loopback service. asked: the queries; agents: who asked."""

    def __init__(self) -> None:
        self.answer: Solution = says([place()])
        self.asked: list[dict[str, str]] = []
        self.agents: list[str] = []
        outer = self

        class Handler(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                query = {k: v[0] for k, v in parse_qs(urlsplit(self.path).query).items()}
                outer.asked.append({"path": urlsplit(self.path).path, **query})
                outer.agents.append(self.headers["User-Agent"])
                status, body = outer.answer(query)
                self.send_response(status)
                self.send_header("Content-Type", "application/json")
                self.end_headers()
                try:
                    for start in range(0, len(body), 65_536):
                        self.wfile.write(body[start : start + 65_536])
                except OSError:
                    pass  # The client has seen enough.

            def log_message(self, *args: object) -> None:
                pass

        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self._server.daemon_threads = True
        threading.Thread(target=self._server.serve_forever, daemon=True).start()
        self.address = f"http://127.0.0.1:{self._server.server_address[1]}"

    def close(self) -> None:
        self._server.shutdown()
        self._server.server_close()


@pytest.fixture
def server() -> Iterator[Server]:
    running = Server()
    yield running
    running.close()


class Clock:
    """Time that passes only when somebody sleeps, and a little with each look."""

    def __init__(self) -> None:
        self.now, self.slept = 100.0, []

    def __call__(self) -> float:
        self.now += 0.01
        return self.now

    def sleep(self, seconds: float) -> None:
        self.slept.append(seconds)
        self.now += seconds


def service(server: Server, clock: Clock | None = None, **options: object) -> AddressService:
    clock = clock or Clock()
    config = ServiceConfig(server.address + "/geo/", "Test lawns, office", "office@example.com")
    return AddressService(config, clock=clock, sleep=clock.sleep, **options)  # type: ignore[arg-type]


def test_service_finds_a_house(server):
    found = service(server).find(ELM)
    assert (found.sure, found.point) == (Sureness.SERVICE, (40.1, -83.2))
    assert found.found_as == "12, Elm Street, Alder, Ohio"
    asked = server.asked[0]
    assert asked["path"] == "/geo/search"
    assert (asked["street"], asked["city"]) == ("12 Elm St", "Alder")
    assert (asked["state"], asked["postalcode"]) == ("OH", "43001")
    assert asked["countrycodes"] == "us"
    assert server.agents == ["Test lawns, office (office@example.com)"]


def test_answer_without_the_house_number_is_less_sure(server):
    server.answer = says([place(number="14")])
    assert service(server).find(ELM).sure is Sureness.STREET
    server.answer = says([{**place(), "address": {"road": "Elm Street"}}])
    assert service(server).find(Question("13 Elm St")).sure is Sureness.STREET
    server.answer = says([{**place(), "address": {"city": "Alder"}}])
    found = service(server).find(Question("15 Elm St"))
    assert (found.sure, found.point) == (Sureness.NOT_FOUND, None)


@pytest.mark.parametrize(
    ("asked", "sure"),
    [
        (ELM, Sureness.SERVICE),
        (Question("12 Elm Ave", "Alder", "OH", "43001"), Sureness.DIFFERS),
        (Question("12 N Elm St", "Alder", "OH", "43001"), Sureness.DIFFERS),
        (Question("12 Elm St", "Alder", "OH", "43002"), Sureness.DIFFERS),
        (Question("12 Elm St", "Alder", "PA", "43001"), Sureness.DIFFERS),
        (Question("12 Emlm St", "Alder", "OH", "43001"), Sureness.PICK_ONE),
        (Question("12 Elm", "Alder", "OH", "43001"), Sureness.SERVICE),
    ],
)
def test_answer_that_contradicts_the_question_is_only_suggested(server, asked, sure):
    more = {"town": "Alder", "state": "Ohio", "postcode": "43001"}
    server.answer = says([{**place(), "address": {**place()["address"], **more}}])
    found = service(server).find(asked)
    assert found.sure is sure
    if sure is not Sureness.SERVICE:
        assert found.point is None
        assert [one.point for one in found.suggestions] == [(40.1, -83.2)]


def test_one_request_a_second(server):
    clock = Clock()
    asking = service(server, clock)
    for number in range(4):
        asking.find(Question(f"{number + 1} Elm St"))
    assert len(server.asked) == 4
    assert len(clock.slept) == 3
    # The clock of the test moves a hundredth with each look; the wait is the rest of the second.
    assert all(0.9 < seconds <= 1.0 for seconds in clock.slept)


def test_answers_are_kept_also_that_there_is_none(server, tmp_path):
    first = service(server).find(ELM)
    again = service(server)
    assert again.find(ELM) == first
    assert again.requests == 0
    server.answer = says([])
    unknown = Question("99 Elm St")
    assert service(server).find(unknown).found_as == "the service does not know it"
    assert service(server).find(unknown).sure is Sureness.NOT_FOUND
    assert len(server.asked) == 2
    # Another service may know more.
    other = AddressService(ServiceConfig(server.address, "x"), clock=Clock(), sleep=Clock().sleep)
    server.answer = says([place(number="99")])
    assert other.find(unknown).sure is Sureness.SERVICE


def test_old_misses_are_asked_again(server, monkeypatch):
    server.answer = says([])
    service(server).find(ELM)
    monkeypatch.setattr(address_service, "MISS_KEPT_DAYS", 0.0)
    server.answer = says([place()])
    assert service(server).find(ELM).sure is Sureness.SERVICE


@pytest.mark.parametrize(
    "content", ["", "{", "[]", '{"query": {}, "answer": {"lat": 1}}', "\x00\xff"]
)
def test_broken_cache_is_asked_again(server, tmp_path, content):
    service(server).find(ELM)
    (file,) = (tmp_path / "cache" / "addresses").glob("*.json")
    file.write_text(content, encoding="latin-1")
    asking = service(server)
    assert asking.find(ELM).sure is Sureness.SERVICE
    assert asking.requests == 1
    assert not list(file.parent.glob("*.tmp"))


@pytest.mark.parametrize("status", [400, 403, 404, 429, 500, 503])
def test_errors_are_told_and_not_kept(server, status):
    server.answer = lambda query: (status, b"<html>no</html>")
    found = service(server).find(ELM)
    assert found.sure is Sureness.NOT_FOUND
    assert "the service failed" in found.found_as
    server.answer = says([place()])
    assert service(server).find(ELM).sure is Sureness.SERVICE


def test_service_that_fails_is_left_alone(server):
    server.answer = lambda query: (503, b"")
    asking = service(server)
    texts = [asking.find(Question(f"{number} Elm St")).found_as for number in range(1, 8)]
    assert len(server.asked) == address_service.FAILURES_UNTIL_GIVEN_UP
    assert asking.gave_up
    assert "not asked" in texts[-1]


def test_nobody_listens():
    config = ServiceConfig("http://127.0.0.1:9", "x")
    found = AddressService(config, clock=Clock(), sleep=Clock().sleep).find(ELM)
    assert found.sure is Sureness.NOT_FOUND


def test_service_that_hangs(server):
    release = threading.Event()

    def hang(query: dict[str, str]) -> tuple[int, bytes]:
        release.wait(20)
        return 200, b"[]"

    server.answer = hang
    found = service(server, timeout_s=0.2).find(ELM)
    release.set()
    assert found.sure is Sureness.NOT_FOUND
    assert "timed out" in found.found_as


def test_answer_that_trickles_in_ends(server, monkeypatch):
    monkeypatch.setattr(address_service, "LONGEST_ANSWER_S", 0.0)
    waited_for = threading.Event()

    def answer(query):
        waited_for.wait(60)  # However fast the machine, it is not there before the wait ends.
        return 200, b" " * 500_000 + b"[]"

    server.answer = answer
    found = service(server).find(ELM)
    waited_for.set()
    assert "takes too long" in found.found_as


HOSTILE = {
    "html": b"<html><body>Welcome</body></html>",
    "nothing": b"",
    "no utf-8": b'[{"lat": "\xff"}]',
    "error": b'{"error": "no"}',
    "a text": b'"12 Elm St"',
    "a number": b"12",
    "a list of texts": b'["a", "b"]',
    "no point": b'[{"display_name": "x"}]',
    "point of words": json.dumps([place(lat="north")]).encode(),
    "nan": json.dumps([place(lat="nan")]).encode(),
    "endless": json.dumps([place(lon="inf")]).encode(),
    "off the globe": json.dumps([place(lat="95")]).encode(),
    "list as a point": json.dumps([place(lat=[1])]).encode(),
    "address a list": json.dumps([{**place(), "address": ["12", "Elm"]}]).encode(),
    "deep": b"[" * 200_000,
    "huge": b'["' + b"x" * 3_000_000 + b'"]',
}


@pytest.mark.parametrize("body", HOSTILE.values(), ids=HOSTILE)
def test_hostile_answers_find_nothing_and_raise_nothing(server, body):
    server.answer = lambda query: (200, body)
    found = service(server).find(ELM)
    assert (found.sure, found.point) == (Sureness.NOT_FOUND, None)
    assert len(found.found_as) < 300
    assert "\n" not in found.found_as


def test_text_of_an_answer_is_made_harmless(server):
    evil = {**place(), "display_name": "=HYPERLINK(1)\n\u202e<b>\x00" + "x" * 1000}
    server.answer = says([evil])
    found = service(server).find(ELM)
    assert found.found_as.startswith("HYPERLINK(1) <b> x")
    assert len(found.found_as) <= 160


# ------------------------------------------------------------------ the command


def blanked(folder: Path, into: Path, keep_first: int = 0) -> list[dict[str, str]]:
    """A copy of a workbook with lat and lon blank below its first rows; returns the old rows."""
    shutil.copytree(folder, into)
    with (into / "properties.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    with (into / "properties.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        for number, row in enumerate(rows):
            blank = {} if number < keep_first else {"lat": "", "lon": ""}
            writer.writerow(row | blank)
    return rows


def run(*args: object) -> object:
    return CliRunner().invoke(main, ["locate", *map(str, args)])


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_demo_addresses_come_back_to_their_places(tmp_path):
    before = blanked(DEMO, tmp_path / "book", keep_first=2)
    out = tmp_path / "found.csv"
    result = run(tmp_path / "book", "--roads", TOWN, "--out", out)
    assert result.exit_code == 0, result.output
    after = rows_of(out)
    assert len(after) == len(before)
    assert [row["_located"] for row in after[:3]] == ["", "", "exact number"]
    for old, new in zip(before, after, strict=True):
        # 150 ft are 0.0004 degrees of latitude and 0.00054 of longitude in Ohio.
        assert abs(float(old["lat"]) - float(new["lat"])) < 0.0004
        assert abs(float(old["lon"]) - float(new["lon"])) < 0.0005
        assert {k: v for k, v in new.items() if k in old and k not in ("lat", "lon")} == {
            k: v for k, v in old.items() if k not in ("lat", "lon")
        }
    # The copy is a properties table that the planner reads.
    shutil.copy(out, tmp_path / "book" / "properties.csv")
    assert read_workbook(tmp_path / "book").problems == ()


def test_columns_may_be_missing_and_the_workbook_excel(tmp_path):
    blanked(DEMO, tmp_path / "book")
    rows = rows_of(tmp_path / "book" / "properties.csv")
    kept = [name for name in rows[0] if name not in ("lat", "lon")]
    with (tmp_path / "book" / "properties.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, kept, extrasaction="ignore")
        writer.writeheader()
        writer.writerows(rows)
    shutil.copy(TOWN, tmp_path / "town.osm.pbf")
    (tmp_path / "book" / "planner.toml").write_text('roads = "../town.osm.pbf"\n')
    assert run(tmp_path / "book", "--out", tmp_path / "a.csv").exit_code == 0
    book = excel_of(tmp_path / "book", tmp_path / "book.xlsx")
    (tmp_path / "planner.toml").write_text('roads = "town.osm.pbf"\n')
    assert run(book, "--out", tmp_path / "b.csv").exit_code == 0
    for one, other in zip(rows_of(tmp_path / "a.csv"), rows_of(tmp_path / "b.csv"), strict=True):
        assert (one["lat"], one["lon"]) == (other["lat"], other["lon"])
        assert one["lat"]


def test_nothing_is_overwritten(tmp_path):
    blanked(DEMO, tmp_path / "book")
    before = (tmp_path / "book" / "properties.csv").read_bytes()
    out = tmp_path / "found.csv"
    out.write_text("mine")
    result = run(tmp_path / "book", "--roads", TOWN, "--out", out)
    assert result.exit_code == 0
    assert "the new one is found-1.csv" in " ".join(result.output.lower().split())
    assert out.read_text() == "mine"
    assert rows_of(tmp_path / "found-1.csv")
    assert run(tmp_path / "book", "--roads", TOWN, "--out", tmp_path / "b.csv").exit_code == 0
    assert (tmp_path / "book" / "properties.csv").read_bytes() == before


def test_not_found_is_named_with_row_and_cure_and_the_copy_is_written(tmp_path):
    blanked(DEMO, tmp_path / "book")
    path = tmp_path / "book" / "properties.csv"
    path.write_text(path.read_text().replace("732 Vista Trail", "1 Nowhere Lane"))
    out = tmp_path / "found.csv"
    result = run(tmp_path / "book", "--roads", TOWN, "--out", out, "--json")
    assert result.exit_code == 1
    told = json.loads(result.output)
    (problem,) = told["problems"]
    assert (problem["file"], problem["row"], problem["column"], problem["code"]) == (
        "properties.csv",
        2,
        "address",
        "LOCATE-1",
    )
    assert problem["cure"]
    assert told["counts"]["not found"] == 1
    assert (rows_of(out)[0]["lat"], rows_of(out)[0]["_located"]) == ("", "not found")


def spoiled(folder: Path, into: Path, **changes: str) -> None:
    """A copy of a workbook without coordinates, with some texts of its properties changed."""
    blanked(folder, into)
    path = into / "properties.csv"
    text = path.read_text()
    for old, new in changes.items():
        text = text.replace(old.replace("_", " "), new)
    path.write_text(text)


def test_doubt_gets_suggestions_and_the_picked_one_is_taken(tmp_path):
    spoiled(DEMO, tmp_path / "book", **{"732_Vista_Trail": "732 Vsta Trl"})
    result = run(tmp_path / "book", "--roads", TOWN, "--out", tmp_path / "a.csv")
    assert result.exit_code == 1
    assert "properties.csv, row 2, column 'address'" in result.output
    assert "write 1 (732 Vista Trail" in result.output
    rows = rows_of(tmp_path / "a.csv")
    assert (rows[0]["lat"], rows[0]["_located"], rows[0]["_pick"]) == ("", "pick one", "")
    assert rows[0]["_suggestion_1"].startswith("732 Vista Trail, Alder Mills")
    assert all(row["_suggestion_1"] == "" for row in rows[1:])
    # Somebody picks, puts the copy in place and runs it again; no map is needed for that.
    rows[0]["_pick"] = "1"
    with (tmp_path / "book" / "properties.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    (tmp_path / "book" / "planner.toml").unlink(missing_ok=True)
    result = run(tmp_path / "book", "--out", tmp_path / "b.csv")
    assert result.exit_code == 0, result.output
    after = rows_of(tmp_path / "b.csv")
    assert (after[0]["_located"], after[0]["_pick"], after[0]["_suggestion_1"]) == (
        "picked",
        "",
        "",
    )
    assert after[0]["_located_as"].startswith("732 Vista Trail, Alder Mills")
    first = rows_of(DEMO / "properties.csv")[0]
    assert abs(float(after[0]["lat"]) - float(first["lat"])) < 0.0004
    assert {k: v for k, v in after[1].items() if not k.startswith("_")} == {
        k: v for k, v in rows[1].items() if not k.startswith("_")
    }
    shutil.copy(tmp_path / "b.csv", tmp_path / "book" / "properties.csv")
    assert read_workbook(tmp_path / "book").problems == ()


@pytest.mark.parametrize("pick", ["4", "0", "first", "2"])
def test_pick_that_is_not_there_is_a_problem(tmp_path, pick):
    blanked(DEMO, tmp_path / "book")
    rows = rows_of(tmp_path / "book" / "properties.csv")
    rows[0] |= {"_suggestion_1": "732 Vista Trail (40.500000, -83.100000)", "_pick": pick}
    with (tmp_path / "book" / "properties.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    result = run(tmp_path / "book", "--roads", TOWN, "--out", tmp_path / "a.csv", "--json")
    (problem,) = json.loads(result.output)["problems"]
    assert (problem["row"], problem["column"], problem["code"], problem["found"]) == (
        2,
        "_pick",
        "LOCATE-3",
        pick,
    )
    assert rows_of(tmp_path / "a.csv")[0]["lat"] == ""


def test_sites_are_located_too(tmp_path):
    shutil.copytree(DEMO, tmp_path / "book")
    path = tmp_path / "book" / "sites.csv"
    before = rows_of(path)
    rows = [row | {"lat": "", "lon": ""} for row in before]
    rows[0]["address"] = "732 Vista Trail, Alder Mills OH"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    result = run(tmp_path / "book", "--roads", TOWN, "--out", tmp_path / "properties-x.csv")
    assert result.exit_code in (0, 1), result.output
    after = rows_of(tmp_path / "sites-x.csv")
    home = next(
        row for row in rows_of(DEMO / "properties.csv") if row["address"] == "732 Vista Trail"
    )
    assert after[0]["_located"] == "exact number"
    assert abs(float(after[0]["lat"]) - float(home["lat"])) < 0.0004
    assert [row["site"] for row in after] == [row["site"] for row in before]


def test_nothing_to_look_in(tmp_path):
    blanked(BASE, tmp_path / "book")
    (tmp_path / "book" / "planner.toml").unlink(missing_ok=True)
    result = run(tmp_path / "book", "--out", tmp_path / "x.csv")
    assert result.exit_code == 1
    assert "[locate]" in result.output
    assert not (tmp_path / "x.csv").exists()


def office(book: Path, server: Server, more: str = "") -> None:
    (book / "planner.toml").write_text(
        f'{more}[locate]\nservice = "{server.address}"\nuser_agent = "Test lawns"\n'
    )


def test_service_is_asked_only_for_what_the_extract_lacks(tmp_path, server, monkeypatch):
    monkeypatch.setattr(address_service, "SECONDS_BETWEEN", 0.0)
    blanked(DEMO, tmp_path / "book")
    path = tmp_path / "book" / "properties.csv"
    path.write_text(path.read_text().replace("732 Vista Trail", "12 Elm Street"))
    office(tmp_path / "book", server)
    server.answer = says([place(lat="40.55", lon="-83.5")])
    out = tmp_path / "found.csv"
    result = run(tmp_path / "book", "--roads", TOWN, "--out", out)
    assert result.exit_code == 0, result.output
    assert len(server.asked) == 1
    assert "asked 1 times" in result.output
    row = rows_of(out)[0]
    assert (row["lat"], row["lon"], row["_located"]) == ("40.550000", "-83.500000", "service")
    # Names of customers stay in the office.
    assert not any(row["customer"] in text for text in map(str, server.asked))
    result = run(tmp_path / "book", "--roads", TOWN, "--out", tmp_path / "b.csv", "--offline")
    assert result.exit_code == 1
    assert len(server.asked) == 1


def test_place_on_another_continent_is_not_believed(tmp_path, server, monkeypatch):
    monkeypatch.setattr(address_service, "SECONDS_BETWEEN", 0.0)
    blanked(BASE, tmp_path / "book")
    office(tmp_path / "book", server)
    assert load_office_file(tmp_path / "book").locate is not None
    # The service moves every street to another continent.
    server.answer = lambda query: says(
        [
            {
                **place(query["street"].split()[0], "48.2", "16.4"),
                "address": {
                    "house_number": query["street"].split()[0],
                    "road": query["street"].partition(" ")[2],
                },
            }
        ]
    )(query)
    result = run(tmp_path / "book", "--out", tmp_path / "x.csv")
    assert result.exit_code == 1
    assert "miles from the nearest yard" in result.output
    assert all(row["lat"] == "" for row in rows_of(tmp_path / "x.csv"))


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ('locate = "x"', "locate"),
        ('[locate]\nservice = "https://a.example"', "user_agent"),
        ('[locate]\nuser_agent = "x"', "service"),
        ('[locate]\nservice = "ftp://a"\nuser_agent = "x"', "service"),
        ('[locate]\nservice = "file:///etc/passwd"\nuser_agent = "x"', "service"),
        ('[locate]\nservice = "http://a:99999999"\nuser_agent = "x"', "service"),
        ('[locate]\nservice = "https://a.example"\nuser_agent = "a\\r\\nHost: b"', "user_agent"),
        ('[locate]\nservice = "https://a.example"\nuser_agent = "x"\nkeys = "1"', "keys"),
        ('[locate]\nservice = 5\nuser_agent = "x"', "service"),
    ],
)
def test_bad_service_settings_are_problems(tmp_path, text, key):
    (tmp_path / "planner.toml").write_text(text)
    read = load_office_file(tmp_path)
    assert read.locate is None
    assert [problem.code for problem in read.problems] == ["FILE-5"]
    assert key in str(read.problems[0])


def test_service_is_off_by_default(tmp_path):
    assert load_office_file(DEMO).locate is None
    assert load_office_file(tmp_path).locate is None


def test_real_clock_is_the_default():
    asking = AddressService(ServiceConfig("http://127.0.0.1:9", "x"))
    assert (asking._clock, asking._sleep) == (time.monotonic, time.sleep)
