"""The small office that cases spoil: its tables, a plan of its day with all sheets, records, and
one file of every other kind that a command reads."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import stat
from collections.abc import Sequence
from pathlib import Path

from planner.tables.columns import all_columns, table_names
from tests.bad_workbooks import BASE
from tests.fuzz.server import Ended, Request, Server

DAY = "2027-04-14"
HOURLY = {
    "properties": {
        "periods": [
            {
                "startTime": f"{DAY}T{hour:02}:00:00-04:00",
                "temperature": 61,
                "temperatureUnit": "F",
                "windSpeed": "5 mph",
                "windDirection": "SW",
                "probabilityOfPrecipitation": {"value": 10},
            }
            for hour in range(7, 18)
        ]
    }
}
EXPORT = """Cust #,Customer,Address,Lat,Lon,Lawn sq ft,Service,Due
1,C. Cedar,3 Cedar Lane,40.51,-83.50,5000,feed,4/14/2027
2,D. Dogwood,4 Dogwood Lane,40.515,-83.505,7000,weeds,4/15/2027
"""
FLEET = ("trucks.csv", "lines.csv", "compartments.csv")
MATRIX = """from,to,miles,minutes
yard,pond,3,8
pond,yard,3,8
"""
ALWAYS = ("--engine", "nearest-fit")
ROWS = {
    "applicators": ("C. Cedar,,A-17,3a; 7,2030-12-31,2030-12-31,2030-12-31,none,B. Birch",),
    "edges": ("A,well,30,10,0",),
    "product_rates": ("nitro,tall fescue,,0.8 lb N/1000 sq ft,,",),
    "programs": ("full,1,Feed,feed,Apr 1,May 10,200,900,50,Mar 1,simple average,28,56,20,4,2",),
    "property_programs": ("A,full,5000,2027-01-01,2027-12-31,1,no",),
    "ground": ("2027-04-14,,no,no,no,yes,no,48",),
    "notify": ("D. Dogwood,614-555-0123,d@example.com,,40.51,-83.51,200,,OH,24,72",),
    "local_rules": (
        "sign,OH,Union,,sign,Yellow,Sec. 4,2027-01-05,,,,,,,,,,,,,,,any,at,,,,24,,",
        "water,OH,,Cedar Mills,setback,No feed near water,Sec. 5,,,,any,N or P,15,,,,,,,,,,,,,,,,,",
    ),
    "temperatures": ("2027-04-13,,41,63",),
    "climate": ("4,30",),
}
"""A row of each table that the small workbook does not hold."""

IMPORT = ("import", "office", "export.csv")
RECORD = (
    "record", "office", "day", "--as-planned", "--wind", "4", "--wind-from", "SW",
    "--temperature", "61",
)  # fmt: skip
MADE = {
    "plan": ["plan", "office", "--date", DAY, "--out", "day", *ALWAYS],
    "record": ["record", "kept", "kept-day", "--as-planned", "--wind", "4", "--wind-from", "SW"],
}


def make(home: Path, server: Server) -> None:
    """The office in a new folder."""
    home.mkdir()
    assert {*ROWS} == {name for name in table_names() if not (BASE / f"{name}.csv").exists()}
    for book in ("office", "kept"):
        shutil.copytree(BASE, home / book)
        for table, rows in ROWS.items():
            names = [column.column for column in all_columns() if column.table == table]
            text = "\n".join((",".join(names), *rows, ""))
            (home / book / f"{table}.csv").write_text(text)
        (home / book / "planner.toml").write_text('# roads = "x.osm"\n')
    (home / "hourly.json").write_text(json.dumps(HOURLY))
    (home / "export.csv").write_text(EXPORT)
    (home / "large").mkdir()
    for name in FLEET:
        shutil.copy(BASE / name, home / "large" / name)
    (home / "large" / "fleet.toml").write_text("")
    for words in (
        MADE["plan"],
        ["plan", "kept", "--date", DAY, "--out", "kept-day", *ALWAYS],
        [*MADE["record"], "--temperature", "61"],
        ["new", "book.xlsx", "--date", DAY],
        ["import", "office", "export.csv"],
    ):
        ended = server.run(Request(words, str(home)))
        assert ended.code in (0, 1, 3), (words, ended)


def copy(made: Path, home: Path, words: Sequence[str]) -> Path:
    """A copy to spoil, of what a command names."""
    home.mkdir()
    named = {part.split("/")[0] for word in words for part in word.split("=")}
    for entry in made.iterdir():
        if entry.name not in named:
            continue
        if entry.is_dir():
            shutil.copytree(entry, home / entry.name, symlinks=True)
        else:
            shutil.copy2(entry, home / entry.name)
    return home


def snapshot(home: Path) -> dict[str, str]:
    """What lies in a folder: name -> checksum of a file, target of a link, else its kind."""
    found = {}
    for folder, folders, files in os.walk(home):
        for name in (*folders, *files):
            place = Path(folder, name)
            mode = place.lstat().st_mode
            if stat.S_ISREG(mode):
                said = hashlib.sha256(place.read_bytes()).hexdigest() if mode & 0o400 else "barred"
            elif stat.S_ISLNK(mode):
                said = f"-> {str(place.readlink())!r}"
            else:
                said = "folder" if stat.S_ISDIR(mode) else "special"
            found[os.fsencode(place.relative_to(home)).decode(errors="backslashreplace")] = said
    return found


__all__ = ["ALWAYS", "DAY", "Ended", "copy", "make", "snapshot"]
