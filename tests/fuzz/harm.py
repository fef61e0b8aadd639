"""Ways to spoil a file, a cell or an option, which the cases share."""

from __future__ import annotations

import csv
import os
import shutil
from collections.abc import Callable
from pathlib import Path

Harm = Callable[[Path], object]

DIGITS = "9" * 5_000
LONG_NAME = "n" * 300


def cells_of(file: Path) -> list[list[str]]:
    """Rows of a CSV file."""
    with file.open(encoding="utf-8-sig", newline="") as opened:
        return list(csv.reader(opened))


def put_cells(file: Path, rows: list[list[str]]) -> None:
    """Write rows back."""
    with file.open("w", encoding="utf-8", errors="surrogateescape", newline="") as opened:
        csv.writer(opened).writerows(rows)


def put_cell(file: Path, column: str, text: str, row: int = 2) -> None:
    """Write a cell; a column that is not there is added. row: as the spreadsheet counts."""
    rows = cells_of(file)
    if column not in rows[0]:
        for number, cells in enumerate(rows):
            cells.append(column if number == 0 else "")
    rows[row - 1][rows[0].index(column)] = text
    put_cells(file, rows)


def reencoded(encoding: str) -> Harm:
    """Saved in another encoding, with a letter that it needs."""

    def do(file: Path) -> None:
        text = file.read_text(encoding="utf-8") + "# é\n"
        file.write_bytes(text.encode(encoding))

    return do


def _through(change: Callable[[bytes], bytes]) -> Harm:
    return lambda file: file.write_bytes(change(file.read_bytes()))


def _instead(make: Callable[[Path], object]) -> Harm:
    def do(file: Path) -> None:
        if file.is_dir() and not file.is_symlink():
            shutil.rmtree(file)
        else:
            file.unlink(missing_ok=True)
        make(file)

    return do


UNREADABLE: dict[str, Harm] = {
    "is empty": lambda f: f.write_bytes(b""),
    "is a folder": _instead(lambda f: f.mkdir()),
    "is a link to itself": _instead(lambda f: f.symlink_to(f.name)),
    "is a link to nothing": _instead(lambda f: f.symlink_to("nowhere")),
    "is a link to its folder": _instead(lambda f: f.symlink_to(".")),
    "is a pipe": _instead(os.mkfifo),
    "is an endless device": _instead(lambda f: f.symlink_to("/dev/zero")),
    "is UTF-16 without a mark": reencoded("utf-16-le"),
    "is UTF-32": reencoded("utf-32"),
    "is random bytes": lambda f: f.write_bytes(bytes(range(256)) * 40),
    "is zero bytes": lambda f: f.write_bytes(bytes(5_000)),
    "is an archive": lambda f: f.write_bytes(b"PK\x03\x04" + bytes(60)),
    "is half a letter": _through(lambda data: data + b"\xed\xa0\x80"),
    "is cut within a letter": _through(lambda data: data + "é".encode()[:1]),
    "has a zero byte": _through(lambda data: data.replace(b"\n", b"\n\0", 1)),
}
"""No command may take these for a good file."""
READABLE: dict[str, Harm] = {
    "has a byte order mark": _through(lambda data: b"\xef\xbb\xbf" + data),
    "has Windows line ends": _through(lambda data: data.replace(b"\n", b"\r\n")),
    "has only carriage returns": _through(lambda data: data.replace(b"\n", b"\r")),
    "ends without a line end": _through(bytes.rstrip),
    "ends in blank lines": _through(lambda data: data + b"\n\n \n"),
}


LINES: dict[str, Callable[[str], str]] = {
    "a row of open quotes": lambda text: text + '"' * 7 + "\n",
    "an open quote": lambda text: text + '"abc\n',
    "a cell of 128,000 letters": lambda text: text + "x" * 128_000 + "\n",
    "a quoted cell of 140,000 letters": lambda text: text + '"' + "a, " * 47_000 + '"\n',
    "a list of 60,000 items": lambda text: text + "a; " * 60_000 + "\n",
    "a row of 100,000 cells": lambda text: text + "," * 100_000 + "x\n",
    "a header of 2,000 columns": lambda text: ",".join(f"_{n}" for n in range(2_000)) + "\n" + text,
    "the header twice": lambda text: text.split("\n")[0] + "\n" + text,
    "no header": lambda text: text.split("\n", 1)[1] or "1,2,3\n",
    "a row too long": lambda text: text + "1,2,3,4,5,6,7,8,9" * 6 + "\n",
}
