"""Cases of the command line: every option of every command, and every argument that is a place."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click

from planner.cli.main import COMMANDS, main
from tests.fuzz.harm import DIGITS, LONG_NAME
from tests.fuzz.look import ANY, FINE, NOT_WRITTEN, REFUSED, Case
from tests.fuzz.office import ALWAYS, DAY

USUAL: dict[str, tuple[str, ...]] = {
    "audit": ("day", "office"),
    "check": ("office",),
    "columns": (),
    "compare": (
        "office",
        "--engine",
        "nearest-fit",
        "--jobs",
        "1",
        "--seeds",
        "1",
        "--out",
        "both",
    ),
    "days": ("kept",),
    "demo": ("--engine", "nearest-fit", "--effort", "1"),
    "export": ("kept",),
    "forecast": ("office", "--from", "hourly.json"),
    "import": ("office", "export.csv"),
    "locate": ("office",),
    "new": ("fresh",),
    "packet": ("day", "office", "--out", "again"),
    "phone": ("office", "day", "--out", "phones"),
    "plan": ("office", "--date", DAY, *ALWAYS, "--out", "planned"),
    "record": ("office", "day", "--as-planned", "--wind", "4", "--wind-from", "SW"),
    "roads": ("roads.osm",),
    "rounds": ("office", "--date", DAY),
    "serve": ("office", "--date", DAY, "--port", "0"),
    "weeks": ("office", "--from", DAY, "--days", "2", *ALWAYS, "--effort", "1"),
}
"""Each command with all that it needs; an odd option is put behind."""
NUMBERS = ("nan", "inf", "-inf", "1e400", DIGITS, "-1", "", " ", "0x1", "4;5", "\x1b[2J", "½")
TEXTS = ("", DIGITS, "\udcff\udcfe", "\x1b]0;title\x07", "nan", "; ; ;", "-", "../..")
DATES = (
    "0001-01-01",
    "9999-12-31",
    "2027-02-30",
    "0000-00-00",
    "",
    "nan",
    DIGITS,
    "tomorrow",
    "20270414",
)
PLACES = (
    "",
    LONG_NAME,
    "loop",
    "nowhere/at/all",
    "office",
    "\udcff\udcfe.csv",
    "export.csv/x",
    ".",
)
DATE_LIKE = ("--date", "--from", "--to", "--month", "--year", "--at")
OWN_WORDS = {"--cluster": ("", "no address", "tcp://127.0.0.1:1", "\x1b[2J")}
MAY_BE_ANYTHING = {
    ("record", "--by"), ("record", "--why"), ("export", "--property"), ("forecast", "--area"),
    ("compare", "--seed"), ("demo", "--seed"), ("plan", "--seed"), ("import", "--mapping"),
    ("weeks", "--seed"),
}  # fmt: skip
"""Options for which some of the odd words are fair."""


def cases() -> Iterator[Case]:
    """All of them."""
    context = click.Context(main)
    for name in COMMANDS:
        command = main.get_command(context, name)
        assert command is not None
        for option in command.params:
            # The demo day takes too long for words that are fair.
            if name == "demo" and option.name in ("out", "seed"):
                continue
            if isinstance(option, click.Option) and not option.is_flag:
                yield from _option(name, option)
        yield from _places(name, [p for p in command.params if isinstance(p, click.Argument)])
        words = (name, *USUAL[name])
        yield Case(f"{name} with an option that it has not", (*words, "--nope"))
        yield Case(f"{name} with words too many", (*words, "a", "b", "c", "d"))
    yield from _full_disks()
    yield Case("no such command", ("plann",))
    yield Case("a command that is a path", ("../../etc/passwd",))


def _option(command: str, option: click.Option) -> Iterator[Case]:
    flag = max(option.opts, key=len)
    kind = option.type
    place = isinstance(kind, click.Path) or option.metavar in ("FOLDER_OR_PLAN", "FILE", "PATH")
    if flag in OWN_WORDS:
        words: tuple[str, ...] = OWN_WORDS[flag]
    elif isinstance(kind, (click.types.IntParamType, click.types.FloatParamType)):
        words = NUMBERS
    elif flag in DATE_LIKE and not place:
        words = DATES
    elif place:
        words = PLACES
    else:
        words = TEXTS
    turn = sum(map(ord, command + flag))
    for step in range(4):
        word = words[(turn + step) % len(words)]
        shown = word if len(word) < 30 else f"{word[:4]}... of {len(word)} letters"
        strict = not place and (command, flag) not in MAY_BE_ANYTHING
        days = flag in DATE_LIKE and word in ("0001-01-01", "9999-12-31")
        signs = isinstance(kind, click.types.IntParamType) and word in ("-1", DIGITS)
        codes = REFUSED if strict and not days and not signs else ANY | NOT_WRITTEN
        yield Case(
            f"{command} {flag} {shown!r}",
            (command, *USUAL[command], flag, word),
            _with_oddities,
            codes,
            writes=_made_by(command),
        )


def _places(command: str, arguments: list[click.Argument]) -> Iterator[Case]:
    """Each place that is named without an option, as something else."""
    usual = list(USUAL[command])
    for at, argument in enumerate(arguments):
        if command == "columns":
            continue
        turn = sum(map(ord, command + (argument.name or "")))
        for step in range(4):
            word = PLACES[(turn + step) % len(PLACES)]
            if word == "office" and argument.name == "workbook":
                word = "hourly.json"
            shown = word if len(word) < 30 else f"{word[:4]}... of {len(word)} letters"
            words = [*usual]
            words[at : at + 1] = [word]
            yield Case(
                f"{command} with {argument.name} {shown!r}",
                (command, *words),
                _with_oddities,
                ANY | NOT_WRITTEN if command == "new" else REFUSED,
                writes=_made_by(command),
            )


def _full_disks() -> Iterator[Case]:
    """No file may grow beyond so many bytes: what writes ends in one sentence, and nothing is half
    there; commands of small files may come to their end."""
    writers = {**USUAL, "rounds": (*USUAL["rounds"], "--write")}
    for name in ("plan", "packet", "phone", "record", "import", "rounds", "weeks", "new", "locate",
                 "forecast", "export"):  # fmt: skip
        words = writers[name] if name != "export" else (*writers[name], "--out", "table.csv")
        for most in (700, 2_500):
            yield Case(
                f"{name} where no file may be larger than {most} bytes",
                (name, *words),
                codes=NOT_WRITTEN | FINE | frozenset({1, 2}),
                writes=_made_by(name),
                how={"file_bytes": most},
            )


def _made_by(command: str) -> tuple[str, ...]:
    """`locate` writes its copy with exit code 1, too; a comparison notes what it was asked for."""
    written = {"locate": ("properties-located",), "compare": (".both-asked.json",)}
    return written.get(command, ())


def _with_oddities(home: Path) -> None:
    (home / "loop").symlink_to("loop")
