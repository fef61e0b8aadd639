"""The records store under kills, two writers, a full disk, damage and older versions.

Expected values: worked by hand; what SQLite promises is at https://www.sqlite.org/atomiccommit.html.
"""

from __future__ import annotations

import resource
import sqlite3
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from planner.outputs.file import place_new
from planner.records import schema, store
from planner.records.sealed import packed, seal, text_sha256
from planner.records.store import Conflict, EventDraft, Store, StoreError
from tests.killed_writer import ROOT, drafts, kill_in_a_process


def draft(subject: str, **changes: object) -> EventDraft:
    cells = {"kind": "sprayed", "day": "2027-04-14", "plan": "p", "body": {"gal": 8.0}}
    return EventDraft(subject=subject, **{**cells, **changes})  # type: ignore[arg-type]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "records.sqlite"


def filled(path: Path, count: int = 40) -> None:
    with Store(path, create=True) as made:
        for number in range(count):
            made.append(drafts("a", number), "office")


def test_what_was_recorded_is_read_back_in_order(path: Path) -> None:
    with Store(path, create=True) as made:
        made.append([draft("one"), draft("two", day="2027-04-15")], "Kim")
    with Store(path) as again:
        events = again.events()
        assert [(event.seq, event.subject, event.recorded_by) for event in events] == [
            (1, "one", "Kim"),
            (2, "two", "Kim"),
        ]
        assert events[0].body == {"gal": 8.0}
        assert [event.subject for event in again.events(since="2027-04-15")] == ["two"]
        assert [event.subject for event in again.events(until="2027-04-15")] == ["one"]
        assert again.damage() == ()


def test_records_under_former_names_are_read_and_stay_whole(path: Path) -> None:
    body = {"licence": "L-1", "business_licence": "", "gal": 8.0}
    with Store(path, create=True) as made:
        made.append([draft("one", body=dict(body)), draft("two", body={"license": "L-2"})], "Kim")
    with Store(path) as again:
        one, two = again.events()
        assert one.body == {"license": "L-1", "business_license": "", "gal": 8.0}
        assert two.body == {"license": "L-2"}
        some = again.events(only=("license",))
        assert [event.body["license"] for event in some] == ["L-1", "L-2"]
        assert again.damage() == ()


def test_parts_of_bodies_are_those_of_the_whole(path: Path) -> None:
    # Figures with many digits, signs that need escaping, nothing, and lists of things.
    bodies: list[dict[str, object]] = [
        {
            "gal": 0.1 + 0.2,
            "area_ft2": 123456789.123456,
            "note": 'a "quoted"; ü \n',
            "done": True,
            "wind": None,
            "products": [{"id": "x", "amount": 1e-7, "lots": ["a", "b"]}, {"id": "y"}],
        },
        {"gal": 1, "products": []},
        {"done": False},
    ]
    with Store(path, create=True) as made:
        made.append([draft(f"s{n}", body=body) for n, body in enumerate(bodies)], "Kim")
        whole = made.events()
        assert [event.body for event in whole] == bodies
        names = ("gal", "area_ft2", "note", "done", "wind", "products.id", "products.amount")
        cut = made.events(only=names)
        assert [replace(event, body={}) for event in cut] == [
            replace(event, body={}) for event in whole
        ]
        for event, body in zip(cut, bodies, strict=True):
            listed = body.get("products", [])
            assert isinstance(listed, list)
            wanted = {name: body.get(name) for name in names[:5]}
            wanted["products"] = [{n: one.get(n) for n in ("id", "amount")} for one in listed]
            assert event.body == wanted
        assert [event.body for event in made.events(only=("products.lots",))] == [
            {"products": [{"lots": ["a", "b"]}, {"lots": None}]},
            {"products": []},
            {"products": []},
        ]
        assert made.events(since="2028", only=names) == ()


def test_damage_in_what_is_not_wanted_is_found_all_the_same(path: Path) -> None:
    filled(path)
    db = sqlite3.connect(path)
    db.execute("DROP TRIGGER event_is_never_changed")
    db.execute("UPDATE event SET body = json_set(body, '$.unseen', 1) WHERE seq = 7")
    db.commit()
    db.close()
    with Store(path) as made, pytest.raises(StoreError, match="record 7 does not match"):
        made.events(only=("gal",))


def test_a_missing_store_is_not_made_by_reading(path: Path) -> None:
    with pytest.raises(StoreError, match="no records yet"):
        Store(path)
    assert not path.exists()


def test_one_draft_that_conflicts_keeps_all_back(path: Path) -> None:
    with Store(path, create=True) as made:
        (first,) = made.append([draft("one")], "Kim")
        with pytest.raises(Conflict) as caught:
            made.append([draft("two"), draft("one")], "Lee")
        assert caught.value.subjects == ("one",)
        assert len(made.events()) == 1
        made.append([draft("one", kind="corrected", replaces=first.seq)], "Lee")
        with pytest.raises(Conflict):
            made.append([draft("one", kind="corrected", replaces=first.seq)], "Kim")


def test_records_can_neither_be_changed_nor_erased(path: Path) -> None:
    filled(path, 1)
    raw = sqlite3.connect(path)
    for statement in ("UPDATE event SET body = '{}'", "DELETE FROM event"):
        with pytest.raises(sqlite3.IntegrityError, match="records are never"):
            raw.execute(statement)


def test_kills_inside_a_transaction_lose_nothing(tmp_path: Path) -> None:
    """Many more of them: python -m tests.bench.bench_records."""
    found = kill_in_a_process(tmp_path, hits=40, seed=1)
    assert found.hits == 40
    assert found.acknowledged > 20
    assert (found.lost, found.torn, found.damage) == (0, 0, [])


def test_two_offices_write_at_once(path: Path) -> None:
    code = (
        "import sys; from pathlib import Path; from planner.records.store import Store; "
        "from tests.killed_writer import drafts\n"
        "for number in range(30):\n"
        "    with Store(Path(sys.argv[1]), create=True) as store:\n"
        "        store.append(drafts(sys.argv[2], number), sys.argv[2])\n"
    )
    words = [sys.executable, "-c", code, str(path)]
    offices = [subprocess.Popen([*words, name], cwd=ROOT) for name in ("east", "west")]
    assert [office.wait() for office in offices] == [0, 0]
    with Store(path) as made:
        assert made.damage() == ()
        assert len(made.events()) == 2 * 30 * 5


def test_an_office_that_waits_too_long_is_told(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    filled(path, 1)
    monkeypatch.setattr(store, "BUSY_SECONDS", 0.05)
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with Store(path) as made, pytest.raises(StoreError, match="try again"):
        made.append([draft("one")], "Kim")
    other.execute("ROLLBACK")
    with Store(path) as made:
        made.append([draft("one")], "Kim")


def test_a_full_disk_is_told_and_harms_nothing(path: Path) -> None:
    """A file that may not grow is what a full disk looks like to SQLite; both the store's own and
    its journal's growth are stopped."""
    filled(path)
    with Store(path) as made:
        before = made.events()
    code = (
        "import sys; from pathlib import Path\n"
        "from planner.records.store import Store, StoreError\n"
        "from tests.killed_writer import drafts\n"
        "try:\n"
        "    with Store(Path(sys.argv[1])) as store:\n"
        "        for number in range(1000): store.append(drafts(sys.argv[2], number), 'b')\n"
        "except StoreError as error: print(error); sys.exit(7)\n"
    )
    size = path.stat().st_size

    for most in (size, size + 8192, 4096, 600):
        done = subprocess.run(
            [sys.executable, "-c", code, str(path), str(most)],
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=False,
            preexec_fn=lambda most=most: resource.setrlimit(resource.RLIMIT_FSIZE, (most, most)),
        )
        assert done.returncode == 7, done.stderr
        assert "disk is full" in done.stdout
        assert "nothing was recorded" in done.stdout
        with Store(path) as made:
            assert made.damage() == ()
            assert made.events()[: len(before)] == before


def test_changed_bytes_are_found(path: Path) -> None:
    filled(path)
    whole = path.read_bytes()
    at = whole.rindex(b"xxxx")
    path.write_bytes(whole[:at] + b"y" + whole[at + 1 :])
    with Store(path) as made:
        assert any("checksum" in text for text in made.damage())
        with pytest.raises(StoreError, match="damaged"):
            made.events()


@pytest.mark.parametrize(
    "which", ["seq = 7", "true", "seq = (SELECT max(seq) FROM event)", "seq > 190"]
)
def test_lost_records_are_found_by_who_checks_reads_or_records(path: Path, which: str) -> None:
    filled(path)
    raw = sqlite3.connect(path)
    raw.execute("DROP TRIGGER event_is_never_erased")
    raw.execute(f"DELETE FROM event WHERE {which}")
    raw.commit()
    with Store(path) as made:
        assert made.damage()
        for what in (made.events, lambda: made.append([draft("new")], "Kim")):
            with pytest.raises(StoreError, match=r"damaged .*head tells of 200"):
                what()


def test_a_cut_or_foreign_file_is_told_plainly(path: Path) -> None:
    filled(path)
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(StoreError, match="damaged"):
        Store(path)
    path.write_bytes(b"this is no database, but it is long enough to look like one" * 40)
    with pytest.raises(StoreError, match="damaged"):
        Store(path)
    path.unlink()
    raw = sqlite3.connect(path)
    raw.execute("CREATE TABLE other (a)")
    raw.commit()
    with pytest.raises(StoreError, match="is no records store"):
        Store(path)


def test_a_file_of_no_bytes_is_damage_and_no_kill_leaves_one(path: Path) -> None:
    path.touch()
    with pytest.raises(StoreError, match="the file is empty"):
        Store(path, create=True)
    assert path.read_bytes() == b""
    path.unlink()
    # Whole before it has its name; killed then, it is brought up by the next run.
    place_new(path, store._new_store)
    with Store(path) as made:
        made.append([draft("one")], "Kim")
        assert made.damage() == ()


def test_an_older_store_is_brought_up_and_a_newer_refused(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    filled(path, 2)
    more = (*schema.MIGRATIONS, ("CREATE TABLE later (a)",))
    broken = (*schema.MIGRATIONS, ("CREATE TABLE later (a)", "CREATE nonsense"))
    monkeypatch.setattr(store, "MIGRATIONS", broken)
    with pytest.raises(StoreError):
        Store(path)
    monkeypatch.setattr(store, "MIGRATIONS", more)
    with Store(path) as made:
        assert len(made.events()) == 10
    raw = sqlite3.connect(path)
    assert raw.execute("PRAGMA user_version").fetchone() == (len(more),)
    raw.close()
    monkeypatch.setattr(store, "MIGRATIONS", schema.MIGRATIONS)
    with pytest.raises(StoreError, match="newer planner"):
        Store(path)


@pytest.fixture
def first_version(path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A store as the first planner wrote it."""
    with monkeypatch.context() as then:
        then.setattr(store, "MIGRATIONS", schema.MIGRATIONS[:1])
        filled(path, 2)
    return path


def test_a_store_of_the_first_version_keeps_its_records_and_its_guards(first_version: Path) -> None:
    raw = sqlite3.connect(first_version)
    before = raw.execute("SELECT * FROM event ORDER BY seq").fetchall()
    with Store(first_version) as made:
        assert made.damage() == ()
        made.append([draft("new", kind="printed")], "Kim", {"a" * 64: "text"})
    assert raw.execute("SELECT * FROM event ORDER BY seq").fetchall()[:10] == before
    for statement in ("DELETE FROM event", "UPDATE event SET body = ''", "DELETE FROM plan_text"):
        with pytest.raises(sqlite3.IntegrityError, match="records are never"):
            raw.execute(statement)


def test_an_older_store_where_nothing_may_be_written_is_read(
    first_version: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # root may write everywhere: SQLite itself is told to open the file for reading only.
    connect = sqlite3.connect
    monkeypatch.setattr(
        store.sqlite3,
        "connect",
        lambda path, **more: connect(f"{Path(path).as_uri()}?mode=ro", uri=True, **more),
    )
    with Store(first_version) as made:
        assert len(made.events()) == 10
        with pytest.raises(StoreError, match="may not be written"):
            made.append([draft("new")], "Kim")


def test_texts_of_plans_are_kept_whole(path: Path) -> None:
    text = '{"date": "2027-04-14", "ü": 1}\n'
    name = text_sha256(text)
    with Store(path, create=True) as made:
        made.append([draft("one")], "Kim", {name: text})
        made.append([draft("two")], "Kim", {name: text})
        assert made.plan_text(name) == text
        with pytest.raises(StoreError, match="missing"):
            made.plan_text("0" * 64)
    raw = sqlite3.connect(path)
    raw.execute("DROP TRIGGER plan_text_is_never_changed")
    raw.execute("UPDATE plan_text SET packed = ?", (packed(text + " "),))
    raw.commit()
    with Store(path) as made:
        assert made.damage() == (f"the text of plan {name[:10]} does not match its checksum",)
        with pytest.raises(StoreError, match="changed"):
            made.plan_text(name)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf")])
def test_what_is_no_number_is_not_recorded(path: Path, value: float) -> None:
    with Store(path, create=True) as made:
        for body in ({"wind_mph": value}, {"products": [{"amount": 1.0}, {"amount": value}]}):
            with pytest.raises(StoreError, match="is no number; nothing was recorded"):
                made.append([draft("one", body=body)], "Kim")
        assert made.count() == 0


def test_what_is_no_number_and_lies_in_the_file_is_told_until_it_is_corrected(path: Path) -> None:
    """Planners before took `--wind nan`."""
    with Store(path, create=True) as made:
        made.append([draft("one", body={"wind_mph": 4.0, "gal": 1.0})], "Kim")
        nan_row(path, "two", '{"gal": 8.5, "wind_mph": NaN, "products": [{"amount": Infinity}]}')
        made.append([draft("NaN street", body={"note": "NaN", "products": []})], "Kim")
        assert made.damage() == ()
        for only in ((), ("wind_mph", "products.amount")):
            with pytest.raises(StoreError, match=r"record 2 \(two\).*wind_mph.*--repair"):
                made.events(only=only)
            assert [event.seq for event in made.events(kinds=("planned",), only=only)] == []
        ((event, places),) = made.no_numbers()
        assert set(places) == {"wind_mph", "products[0].amount"}
        made.append([draft("two", body=event.body, replaces=event.seq)], "Kim")
        assert made.no_numbers() == ()
        cured = {"wind_mph": None, "products": [{"amount": 0.0}]}
        bodies = [one.body for one in made.events(only=("wind_mph", "products.amount"))]
        assert bodies[1:] == [cured, {"wind_mph": None, "products": []}, cured]
        assert made.events()[1].body == cured | {"gal": 8.5}


def nan_row(path: Path, subject: str, body: str) -> None:
    """A record as a planner before wrote it, chained to those before it."""
    db = sqlite3.connect(path)
    seq, previous = db.execute("SELECT events, sha FROM head").fetchone()
    row = (seq + 1, "sprayed", "2027-04-14", subject, "p", "2027-04-14", "Kim", body, previous)
    db.execute("INSERT INTO event VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", (*row, seal(row)))
    db.execute("UPDATE head SET events = ?, sha = ?", (seq + 1, seal(row)))
    db.commit()
    db.close()


def test_a_backup_is_taken_while_another_office_writes(path: Path, tmp_path: Path) -> None:
    filled(path, 100)
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    other.execute("UPDATE head SET sha = 'half-way'")
    copy = tmp_path / "backup.sqlite"
    with Store(path) as made:
        assert made.backup(copy)[0] == 500
        other.execute("ROLLBACK")
        made.append([draft("one")], "Kim")
        assert made.backup(copy)[0] == 501
    with Store(copy) as written:
        assert written.damage() == ()
        assert len(written.events()) == 501
    assert {file.name for file in tmp_path.glob("[!.]*")} == {"records.sqlite", "backup.sqlite"}


def test_a_backup_overwrites_nothing_foreign(path: Path, tmp_path: Path) -> None:
    filled(path, 1)
    other = tmp_path / "letter.txt"
    other.write_text("dear customer")
    with Store(path) as made:
        with pytest.raises(StoreError, match="name another file"):
            made.backup(path)
        assert made.backup(other)[1].path == tmp_path / "letter-1.txt"
    assert other.read_text() == "dear customer"
