"""Results appear whole or not at all, and never over what somebody typed."""

from __future__ import annotations

import errno
import json
import os
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from planner.cli.main import main
from planner.outputs import folder as folders
from planner.outputs.file import MANIFEST, manifest_text, replace_file, sha256_of, write_file
from planner.outputs.folder import check_folder, save_elsewhere, write_folder
from planner.outputs.told import OutputError, OutputRefused, Written
from planner.tables.starter import starter_files
from planner.tables.xlsx_files import xlsx_bytes

PACKAGE = Path(__file__).resolve().parents[1] / "planner"
DAY = "2027-05-03"
TYPED = "typed by a person: wind 4 SW\n"
HOURLY = """{"properties": {"periods": [{"startTime": "2027-05-03T08:00:00-04:00",
"temperature": 61, "temperatureUnit": "F", "windSpeed": "5 mph", "windDirection": "SW",
"probabilityOfPrecipitation": {"value": 10}}]}}"""


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir() if path.name != MANIFEST)


def everything(folder: Path) -> list[bytes]:
    """What all files below hold."""
    return [file.read_bytes() for file in folder.rglob("*") if file.is_file()]


def planner(*words: object) -> Result:
    result = CliRunner().invoke(main, [str(word) for word in words])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.output
    return result


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An office whose day was planned once, with every file that the other commands write."""
    home = tmp_path_factory.mktemp("made")
    book = home / "office"
    book.mkdir()
    for name, text in starter_files(date.fromisoformat(DAY)).items():
        (book / name).write_text(text, encoding="utf-8")
    (home / "hourly.json").write_text(HOURLY)

    def delivered(target: Path, files: dict[str, str], **more: bool) -> Written:
        DELIVERED[target.name] = files
        return write_folder(target, files, **more)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("planner.cli.common.write_folder", delivered)
        for command in WRITES:
            result = run(home, command)
            assert result.exit_code in (0, 3), result.output
    return home


@pytest.fixture
def home(made: Path, tmp_path: Path) -> Path:
    """A copy: a folder that was copied is still the planner's."""
    shutil.copytree(made, tmp_path / "home")
    return tmp_path / "home"


WRITES = {
    "forecast": "forecast HOME/office --from HOME/hourly.json",
    "plan": f"plan HOME/office --date {DAY} --engine nearest-fit --out HOME/day",
    "packet": "packet HOME/day/plan.json HOME/office --out HOME/packet",
    "record": "record HOME/office HOME/day/plan.json --as-planned --wind 4 --wind-from SW "
    "--temperature 61",
    "compare": f"compare HOME/office --from {DAY} --to {DAY} --engine nearest-fit --seeds 1 "
    "--sample 1 --effort 1 --jobs 1 --out HOME/fleets",
    "locate": "locate HOME/office --out HOME/found.csv",
    "export": "export HOME/office --out HOME/year.csv",
    "forecast-out": "forecast HOME/office --from HOME/hourly.json --out HOME/hours.csv",
    "backup": "record HOME/office --backup HOME/copy.sqlite",
}


def type_over(text: str = TYPED) -> Callable[[Path], None]:
    def do(file: Path) -> None:
        file.write_text(text)

    return do


def append(file: Path) -> None:
    with file.open("a", encoding="utf-8") as opened:
        opened.write(f"# {TYPED}")


def windows_line_ends(file: Path) -> None:
    """As a spreadsheet saves it, with a cell filled in."""
    file.write_bytes(file.read_bytes().replace(b"\n", b"\r\n") + TYPED.encode())


def as_excel(file: Path) -> None:
    """Saved as an Excel file under the same name."""
    lines = [line.split(",") for line in file.read_text(encoding="utf-8-sig").splitlines()]
    file.write_bytes(xlsx_bytes({"actuals": [*lines, [TYPED]]}, {}))


def beside(name: str) -> Callable[[Path], None]:
    def do(file: Path) -> None:
        (file.parent / name).parent.mkdir(exist_ok=True)
        (file.parent / name).write_text(TYPED)

    return do


def without_manifest(file: Path) -> None:
    append(file)
    (file.parent / MANIFEST).unlink()


def foreign_manifest(file: Path) -> None:
    """The manifest of another day's folder was moved here."""
    append(file)
    sums = {name: "0" * 64 for name in names(file.parent)}
    (file.parent / MANIFEST).write_text(manifest_text(sums))


def broken_manifest(file: Path) -> None:
    append(file)
    (file.parent / MANIFEST).write_text('{"files": [')


def linked(file: Path) -> None:
    """The sheet lies elsewhere; here is a link to it."""
    other = file.parent.parent / "elsewhere.csv"
    other.write_text(TYPED)
    file.unlink()
    file.symlink_to(other)


def old_time(file: Path) -> None:
    """Typed, and dated as if it had never been touched."""
    before = file.stat()
    append(file)
    os.utime(file, ns=(before.st_atime_ns, before.st_mtime_ns))


def same_size(file: Path) -> None:
    data = file.read_bytes()
    file.write_bytes(data[: -len(TYPED)] + TYPED.encode())


def more_records(file: Path) -> None:
    """The backup was put to use as a store."""
    with sqlite3.connect(file) as store:
        store.execute("CREATE TABLE typed (words TEXT)")
        store.execute("INSERT INTO typed VALUES (?)", (TYPED,))
    store.close()


WAYS: dict[str, tuple[str, str, Callable[[Path], None]]] = {
    "plan: actuals filled in": ("plan", "day/actuals.csv", append),
    "plan: actuals typed anew": ("plan", "day/actuals.csv", type_over()),
    "plan: actuals saved with other line ends": ("plan", "day/actuals.csv", windows_line_ends),
    "plan: actuals saved as Excel under the name": ("plan", "day/actuals.csv", as_excel),
    "plan: actuals of the same size": ("plan", "day/actuals.csv", same_size),
    "plan: actuals with their old time": ("plan", "day/actuals.csv", old_time),
    "plan: actuals filled in, manifest deleted": ("plan", "day/actuals.csv", without_manifest),
    "plan: actuals filled in, another manifest": ("plan", "day/actuals.csv", foreign_manifest),
    "plan: actuals filled in, manifest broken": ("plan", "day/actuals.csv", broken_manifest),
    "plan: actuals are a link": ("plan", "day/actuals.csv", linked),
    "plan: stop order changed": ("plan", "day/stop-order.csv", append),
    "plan: stop order typed anew": ("plan", "day/stop-order.csv", type_over()),
    "plan: plan.json edited": ("plan", "day/plan.json", append),
    "plan: day page with a remark": ("plan", "day/index.html", append),
    "plan: packet with a remark": ("plan", "day/pick-list.html", append),
    "plan: map changed": ("plan", "day/map.html", append),
    "plan: stops.csv with remarks": ("plan", "day/stops.csv", append),
    "plan: calendar changed": ("plan", "day/day.ics", append),
    "packet: actuals filled in": ("packet", "packet/actuals.csv", append),
    "packet: stop order changed": ("packet", "packet/stop-order.csv", append),
    "packet: plan.json edited": ("packet", "packet/plan.json", append),
    "packet: day page with a remark": ("packet", "packet/index.html", append),
    "packet: manifest deleted": ("packet", "packet/actuals.csv", without_manifest),
    "compare: fleets.csv with remarks": ("compare", "fleets/fleets.csv", append),
    "compare: days.csv typed anew": ("compare", "fleets/days.csv", type_over()),
    "compare: page with a remark": ("compare", "fleets/index.html", append),
    "compare: comparison.json edited": ("compare", "fleets/comparison.json", append),
    "compare: manifest deleted": ("compare", "fleets/trucks.csv", without_manifest),
    "locate: copy corrected": ("locate", "found.csv", append),
    "locate: a file of their own": ("locate", "found.csv", type_over()),
    "locate: manifest deleted": ("locate", "found.csv", without_manifest),
    "locate: a link": ("locate", "found.csv", linked),
    "export: rows with remarks": ("export", "year.csv", append),
    "export: a file of their own": ("export", "year.csv", type_over()),
    "export: saved with other line ends": ("export", "year.csv", windows_line_ends),
    "export: another manifest": ("export", "year.csv", foreign_manifest),
    "forecast: hours typed by hand": ("forecast", "office/weather.csv", append),
    "forecast: hours with their old time": ("forecast", "office/weather.csv", old_time),
    "forecast: manifest deleted": ("forecast", "office/weather.csv", without_manifest),
    "forecast --out: a file of their own": ("forecast-out", "hours.csv", type_over()),
    "backup: a letter": ("backup", "copy.sqlite", type_over()),
    "backup: put to use as a store": ("backup", "copy.sqlite", more_records),
}
ADDED: dict[str, tuple[str, str, Callable[[Path], None]]] = {
    "plan: sheet saved as Excel": ("plan", "day/actuals.csv", beside("actuals.xlsx")),
    "plan: a name in capitals": ("plan", "day/index.html", beside("Notes.txt")),
    "plan: a hidden note": ("plan", "day/index.html", beside(".notes")),
    "plan: a folder of photos": ("plan", "day/index.html", beside("photos/one.txt")),
    "compare: a letter": ("compare", "fleets/index.html", beside("offer.docx")),
}
"""Files of names that the planner never writes: not even --force takes them."""


DELIVERED: dict[str, dict[str, str]] = {}
"""Folder -> its files, as the commands wrote them."""
AS_A_WHOLE = ("plan: actuals filled in", "packet: actuals filled in", "compare: page with a remark")
"""Ways in which the command is run again from its beginning; in the others only the writing is."""


def write_again(way: str, home: Path, *more: str) -> str:
    """The command of the way once more; what it says on stderr."""
    command, name, _ = (WAYS | ADDED)[way]
    files = DELIVERED.get(name.split("/")[0])
    if files is None or way in AS_A_WHOLE:
        result = run(home, command, *more)
        assert result.exit_code in (0, 3), result.output
        return result.stderr
    written = write_folder(home / name.split("/")[0], files, force="--force" in more)
    return "\n".join(written.told)


def run(home: Path, command: str, *more: str) -> Result:
    words = WRITES[command].split()
    return planner(*(word.replace("HOME", str(home)) for word in words), *more)


def typed_in(home: Path, made: Path) -> list[bytes]:
    """What files hold that no command wrote; nothing is said of the manifests."""
    written = everything(made)
    typed = [data for data in everything(home) if data not in written and b'"files"' not in data]
    return list(dict.fromkeys(typed))


@pytest.mark.parametrize("way", [*WAYS, *ADDED])
def test_typed_work_is_never_overwritten(way: str, home: Path, made: Path) -> None:
    command, name, change = (WAYS | ADDED)[way]
    change(home / name)
    before = typed_in(home, made)
    assert len(before) == 1
    told = write_again(way, home)
    assert before[0] in everything(home)
    place = name.split("/")[0]
    assert "kept" in told
    assert place.split(".")[0] in told
    if command in ("plan", "packet", "compare"):
        assert before[0] not in everything(home / place), "the new folder is all new"
        assert (home / f"{place}-kept-1" / name.split("/")[1]).exists()
    write_again(way, home)
    assert before[0] in everything(home), "nor by the next run"


@pytest.mark.parametrize("way", WAYS)
def test_with_force_it_is_overwritten(way: str, home: Path, made: Path) -> None:
    _, name, change = WAYS[way]
    change(home / name)
    (before,) = typed_in(home, made)
    told = write_again(way, home, "--force")
    assert (home / name).read_bytes() != before
    assert not list(home.glob("*-kept-*"))
    assert "as asked" in told
    assert change is linked or before not in everything(home)


@pytest.mark.parametrize("way", ADDED)
def test_what_the_planner_never_writes_is_kept_even_with_force(
    way: str, home: Path, made: Path
) -> None:
    _, name, change = ADDED[way]
    change(home / name)
    (before,) = typed_in(home, made)
    write_again(way, home, "--force")
    assert before in everything(home)


@pytest.mark.parametrize("command", [name for name in WRITES if name != "record"])
def test_what_nobody_touched_is_replaced_without_a_word(command: str, home: Path) -> None:
    before = names(home)
    result = run(home, command)
    assert result.exit_code in (0, 3), result.output
    assert "kept" not in result.stderr
    assert names(home) == before


def test_a_filled_sheet_of_the_old_plan_is_refused_with_the_new_one(home: Path) -> None:
    shutil.copy(home / "day" / "actuals.csv", home / "mine.csv")
    (home / "office" / "records.sqlite").unlink()
    assert run(home, "plan", "--seed", "2").exit_code in (0, 3)
    words = ("record", home / "office", home / "day" / "plan.json", home / "mine.csv")
    result = planner(*words, "--as-planned", "--wind", 4, "--wind-from", "SW", "--temperature", 61)
    assert result.exit_code == 1
    assert "the sheet was written for another plan" in result.stderr


def test_new_with_force_spares_the_records(home: Path) -> None:
    before = (home / "office" / "records.sqlite").read_bytes()
    result = planner("new", home / "office", "--force")
    assert result.exit_code == 0, result.output
    assert (home / "office-kept-1" / "records.sqlite").read_bytes() == before


def test_papers_of_a_plan_read_back_are_the_same_to_the_byte(tmp_path: Path) -> None:
    """A plan in memory holds 154 where its file holds 154.0."""
    book, first, again = (tmp_path / name for name in ("office", "first", "again"))
    planner("new", book, "--date", "2027-05-03")
    planner(
        "plan", book, "--date", "2027-05-03", "--engine", "nearest-fit", "--draft", "--out", first
    )
    planner("packet", first / "plan.json", book, "--draft", "--out", again)
    names = {file.name for file in first.iterdir()} - {MANIFEST}
    assert names == {file.name for file in again.iterdir()} - {MANIFEST}
    for name in names:
        text, read = ((folder / name).read_text(encoding="utf-8") for folder in (first, again))
        assert text == read, name


def test_a_new_folder_is_written(tmp_path: Path) -> None:
    write_folder(tmp_path / "a" / "day", {"plan.json": "{}\n", "index.html": "é"})
    assert names(tmp_path / "a" / "day") == ["index.html", "plan.json"]
    assert (tmp_path / "a" / "day" / "index.html").read_bytes() == "é".encode()
    assert names(tmp_path / "a") == ["day"]


def test_an_earlier_result_is_replaced_as_a_whole(tmp_path: Path) -> None:
    write_folder(tmp_path / "day", {"plan.json": "1", "truck-T9.html": "old"})
    write_folder(tmp_path / "day", {"plan.json": "2"})
    assert names(tmp_path / "day") == ["plan.json"]
    assert (tmp_path / "day" / "plan.json").read_text() == "2"
    assert names(tmp_path) == ["day"]


def test_places_that_are_no_results_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "letter.txt").write_text("keep me")
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    write_folder(tmp_path / "book", {"plan.json": "1", "orders.csv": "a workbook"}, marks=())
    write_folder(tmp_path / "excel", {"plan.json": "1", "Spring-Records.sqlite": ""})
    write_folder(tmp_path / "here", {"plan.json": "1"})
    write_folder(tmp_path / "open", {"plan.json": "1", "actuals.csv": ""})
    (tmp_path / "open" / ".~lock.actuals.csv#").write_text("")
    monkeypatch.chdir(tmp_path / "here")
    for place, why in (
        (tmp_path, "other files"),
        (tmp_path / "letter.txt", "is a file"),
        (tmp_path / "loop", "link"),
        (tmp_path / "book", "workbook"),
        (tmp_path / "excel", "workbook"),
        (tmp_path / "here", "you are in"),
        (tmp_path / "open", "open in another program"),
        (tmp_path / "letter.txt" / "day", "cannot be written"),
        (tmp_path / ("long" * 100), "too long"),
    ):
        with pytest.raises(OutputError, match=why):
            check_folder(place)
        with pytest.raises(OutputError, match=why):
            write_folder(place, {"plan.json": "1"})
    for place, why in ((tmp_path / "open", "folder"), (Path(os.devnull), "no plain file")):
        with pytest.raises(OutputRefused, match=why):
            write_file(place, "x")


def test_a_link_to_a_folder_stays_a_link(tmp_path: Path) -> None:
    write_folder(tmp_path / "disk" / "day", {"plan.json": "1"})
    (tmp_path / "day").symlink_to(tmp_path / "disk" / "day")
    (tmp_path / "disk" / "day" / "plan.json").write_text(TYPED)
    told = write_folder(tmp_path / "day", {"plan.json": "2"}).told
    assert (tmp_path / "day").is_symlink()
    assert (tmp_path / "disk" / "day" / "plan.json").read_text() == "2"
    assert str(tmp_path / "disk" / "day-kept-1") in told[0]


@pytest.mark.parametrize("at", [0, 1, 2, "rename"])
def test_a_full_disk_leaves_the_old_and_the_new_goes_elsewhere(
    at: int | str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_folder(tmp_path / "day", {"plan.json": "1", "actuals.csv": ""})
    (tmp_path / "day" / "actuals.csv").write_text(TYPED)
    real_sync, real_rename, calls = os.fsync, Path.rename, [0]

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    def sync(handle: int) -> None:
        calls[0] += 1
        (full if calls[0] - 1 == at else real_sync)(handle)

    def rename(self: Path, other: Path) -> Path:
        if other == tmp_path / "day" and not calls.count(-1):
            calls.append(-1)
            full()
        return real_rename(self, other)

    monkeypatch.setattr(os, "fsync", sync)
    if at == "rename":
        monkeypatch.setattr(Path, "rename", rename)
    files = {"plan.json": "2", "actuals.csv": "new"}
    with pytest.raises(OutputError, match="the disk is full"):
        write_folder(tmp_path / "day", files)
    assert names(tmp_path) == ["day"]
    assert (tmp_path / "day" / "actuals.csv").read_text() == TYPED
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    spare = save_elsewhere(tmp_path / "day", files)
    assert spare == tmp_path / "planner-day-saved-1"
    assert (spare / "plan.json").read_text() == "2"


def test_a_finished_plan_is_not_lost(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = folders.write_folder

    def full(target: Path, *rest: object, **more: object) -> object:
        if target.name == "day":
            raise OutputError(f"{target} cannot be written: the disk is full. Cure: make room.")
        return real(target, *rest, **more)  # type: ignore[arg-type]

    (tmp_path / "temporary").mkdir()
    monkeypatch.setattr("planner.cli.common.write_folder", full)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "temporary"))
    result = run(home, "plan")
    assert result.exit_code == 5
    (spare,) = (tmp_path / "temporary").glob("planner-day-saved-*")
    assert str(spare) in result.stderr
    again = ("packet", spare / "plan.json", home / "office", "--out", home / "papers")
    assert planner(*again).exit_code == 0


def test_two_writers_at_once_lose_nothing_typed(tmp_path: Path) -> None:
    write_folder(tmp_path / "day", {"plan.json": "0", "actuals.csv": ""})
    (tmp_path / "day" / "actuals.csv").write_text(TYPED)
    files = {number: {"plan.json": str(number), "actuals.csv": ""} for number in range(1, 9)}
    failures: list[BaseException] = []

    def write(number: int) -> None:
        try:
            write_folder(tmp_path / "day", files[number])
            write_file(tmp_path / "year.csv", f"{number}\n")
        except BaseException as error:
            failures.append(error)

    writers = [threading.Thread(target=write, args=(number,)) for number in files]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    assert not failures
    assert (tmp_path / "day" / "plan.json").read_text() in "12345678"
    kept = [
        folder for folder in tmp_path.glob("day-kept-*") if TYPED.encode() in everything(folder)
    ]
    assert len(kept) == 1
    assert not list(tmp_path.glob(".day-*"))


def test_a_numbered_name_is_used_again_while_nobody_types_in_it(tmp_path: Path) -> None:
    file = tmp_path / "year.csv"
    file.write_text(TYPED)
    for text in ("1", "2"):
        assert write_file(file, text).path == tmp_path / "year-1.csv"
    (tmp_path / "year-1.csv").write_text(TYPED)
    assert write_file(file, "3").path == tmp_path / "year-2.csv"
    assert names(tmp_path) == ["year-1.csv", "year-2.csv", "year.csv"]


KILLED = """
import sys
from pathlib import Path
from planner.outputs.folder import write_folder
print("ready", flush=True)
for number in range(100000):
    write_folder(Path(sys.argv[1]), {"plan.json": str(number), "actuals.csv": ""}, force=False)
"""


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGKILL])
def test_a_kill_at_any_moment_leaves_a_whole_folder(number: int, tmp_path: Path) -> None:
    seen = False
    for turn in range(8):
        process = subprocess.Popen(
            [sys.executable, "-c", KILLED, str(tmp_path / "day")],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
        )
        assert process.stdout is not None
        process.stdout.readline()
        with pytest.raises(subprocess.TimeoutExpired):
            process.wait(0.02 + 0.013 * turn)
        process.send_signal(number)
        process.communicate()
        whole = [folder for folder in tmp_path.glob("[!.]*") if (folder / MANIFEST).exists()]
        for folder in whole:
            sums = json.loads((folder / MANIFEST).read_text())["files"]
            assert {name: sha256_of(folder / name) for name in sums} == sums
        assert whole or not seen
        seen = bool(whole)
        if number == signal.SIGINT:
            assert not list(tmp_path.glob(".*"))


def test_files_are_written_in_one_place_only() -> None:
    """What writes by itself holds nothing that a person types: caches, the records store, the copy
    of the tables on which a new order is checked, a page's sheet on its way into the records, how
    far a branch's process is."""
    caches = (
        *("outputs/", "roads/", "compare/run.py", "routing/", "records/store.py"),
        *("office/new_order.py", "office/day_records.py", "weeks/branches.py"),
    )
    writing = re.compile(
        r"\b(write_text|write_bytes|mkstemp|mkdtemp|rmtree)\(|open\((?!os\.devnull)[^)]*\"[wax]"
    )
    for file in PACKAGE.rglob("*.py"):
        place = file.relative_to(PACKAGE).as_posix()
        if not place.startswith(caches):
            assert not writing.search(file.read_text(encoding="utf-8")), place


def test_what_a_killed_run_left_beside_a_file_goes_a_day_later(tmp_path: Path) -> None:
    names = (".orders.csv-0123abcd", ".orders.csv-89ef0123", ".orders.csv-mine", "orders.csv")
    old, new, mine, table = (tmp_path / name for name in names)
    for file in (old, new, mine, table):
        file.write_text("half")
    for file in (old, mine):
        os.utime(file, (0, 0))
    replace_file(table, "whole")
    assert {file.name for file in tmp_path.iterdir()} == {new.name, mine.name, table.name}
