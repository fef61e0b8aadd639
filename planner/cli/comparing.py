"""A comparison from a command: what was asked, progress, files, summary, exit code."""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import click

from planner.caches import why_unused
from planner.cli.common import ProgressLine, deliver, parse_date, told_plainly
from planner.compare.compare import Prepared, Request, compare, prepare
from planner.compare.files import asked_file, comparison_files
from planner.compare.model import Comparison
from planner.outputs.file import replace_file
from planner.outputs.folder import check_folder
from planner.plain_files import read_json, text_of

NAME_MOST = 40
"""Names of fleets stand in tables and pictures."""


@dataclass(frozen=True)
class ComparisonRequest:
    """What a person asked for, as it is kept for --resume. Paths are absolute; None = as usual."""

    workbook: str
    first: str | None
    last: str | None
    fleets: tuple[tuple[str, str], ...]
    sweeps: tuple[str, ...]
    source: str | None
    engine: str | None
    effort: int | None
    seed: int | None
    seeds: int | None
    sample: int | None
    extract: str | None

    @classmethod
    def of(
        cls, workbook: Path, first: object, last: object, asked: Mapping[str, object]
    ) -> ComparisonRequest:
        """From the command's options. Raises click.UsageError."""
        given = asked["fleets"]
        assert isinstance(given, tuple)
        extract = asked["extract"]
        rest = {key: value for key, value in asked.items() if key not in ("fleets", "extract")}
        return cls(
            workbook=str(workbook.resolve()),
            first=str(first) if first else None,
            last=str(last) if last else None,
            fleets=tuple(_fleet_folders(given)),
            extract=str(Path(str(extract)).resolve()) if extract else None,
            **rest,  # type: ignore[arg-type]
        )

    def request(self) -> Request:
        """With what is usual where nothing was said."""
        usual = Request(Path(self.workbook))
        return Request(
            workbook=Path(self.workbook),
            first=parse_date(self.first) if self.first else None,
            last=parse_date(self.last) if self.last else None,
            folders={name: Path(folder) for name, folder in self.fleets},
            sweeps=tuple(self.sweeps),
            source=self.source or usual.source,
            engine=self.engine or usual.engine,
            count=self.effort or usual.count,
            seed=usual.seed if self.seed is None else self.seed,
            seeds=self.seeds or usual.seeds,
            sample=self.sample or usual.sample,
            extract=Path(self.extract) if self.extract else None,
        )


def _fleet_folders(given: Sequence[str]) -> list[tuple[str, str]]:
    found: dict[str, str] = {}
    for text in given:
        name, equals, folder = (part.strip() for part in text.partition("="))
        if not equals or not name or not folder:
            raise click.UsageError(f"--fleet '{text}': write NAME=FOLDER")
        if len(name) > NAME_MOST or not name.isprintable() or "/" in name:
            raise click.UsageError(
                f"--fleet '{text}': a name has at most {NAME_MOST} characters and no slash"
            )
        if name in found:
            raise click.UsageError(f"--fleet '{name}' is given twice")
        if not Path(folder).is_dir():
            raise click.UsageError(f"--fleet '{text}': there is no folder '{folder}'")
        found[name] = str(Path(folder).resolve())
    return list(found.items())


def asked_before(workbook: Path, out: Path) -> ComparisonRequest:
    """What the interrupted comparison into `out` was asked for. Raises click.UsageError."""
    file = asked_file(out)
    try:
        raw = read_json(text_of(file))
        raw["fleets"] = tuple((str(name), str(folder)) for name, folder in raw["fleets"])
        raw["sweeps"] = tuple(raw["sweeps"])
        asked = ComparisonRequest(**raw)
    except FileNotFoundError:
        raise click.UsageError(
            f"there is no interrupted comparison into {out}; give its fleets and days, and what is "
            "planned already will not be planned again"
        ) from None
    except (OSError, ValueError, TypeError, KeyError) as error:
        raise click.UsageError(f"{file} cannot be read ({error}); give all options again") from None
    if Path(asked.workbook) != workbook.resolve():
        raise click.UsageError(f"the interrupted comparison into {out} is of {asked.workbook}")
    return asked


def run_compare(
    asked: ComparisonRequest, out: Path, jobs: int | None, cluster: str | None, force: bool = False
) -> int:
    """Compare, write the folder and print the summary; returns the exit code. force: changed files
    in the folder are overwritten."""
    from planner.compare.run import ClusterError, cores
    from planner.compare.sweeps import SweepError
    from planner.compare.tasks import BrokenPlan

    progress = ProgressLine()
    told = _Told(progress)
    with told_plainly():
        check_folder(out, force=force, marks=("comparison.json",))
        progress(0.0, "reading the workbook and the fleets")
        try:
            prepared = _prepared(asked)
        except SweepError as error:
            raise click.UsageError(f"--sweep: {error}") from None
        finally:
            progress.close()
        text = json.dumps(asdict(asked), ensure_ascii=False, indent=1) + "\n"
        replace_file(asked_file(out), text)
        try:
            comparison = compare(
                prepared,
                told,
                jobs=jobs or cores(),
                cluster=cluster,
                laying=lambda text: progress(0.0, text),
            )
        except KeyboardInterrupt:
            progress.close()
            click.echo(told.interrupted(), err=True)
            return 130
        except ClusterError as error:
            progress.close()
            click.echo(f"Error: {error}", err=True)
            return 1
        except BrokenPlan as error:
            progress.close()
            click.echo(f"{error}\nA bug of the planner. Nothing written.", err=True)
            return 4
        if unused := why_unused():
            click.echo(f"Note: {unused}", err=True)
        if comparison.engine != prepared.request.engine:
            click.echo(
                f"Note: engine '{prepared.request.engine}' could not run for every plan; "
                f"these were made by: {comparison.engine}.",
                err=True,
            )
        progress(1.0, "writing the results")
        files = all_files(comparison)
        progress.close()
        deliver(out, files, force)
        asked_file(out).unlink(missing_ok=True)
    from planner.cli.fleet_words import summary

    click.echo(summary(comparison, out))
    sys.stdout.flush()
    return 0


def _prepared(asked: ComparisonRequest) -> Prepared:
    from planner.compare.compare import NoDays

    try:
        return prepare(asked.request())
    except NoDays as error:
        raise click.UsageError(str(error)) from None


def all_files(comparison: Comparison) -> dict[str, str]:
    """Every file of a comparison's folder."""
    from planner.compare.page import fleets_page

    files = comparison_files(comparison)
    return {"index.html": fleets_page(comparison, tuple(files)), **files}


class _Told:
    """Progress of the tasks with the time that is left."""

    def __init__(self, line: ProgressLine) -> None:
        self._line = line
        self._begun = time.monotonic()
        self.done, self.in_all = 0, 0

    def __call__(self, done: int, before: int, in_all: int) -> None:
        self.done, self.in_all = done, in_all
        if done == before:
            self._begun = time.monotonic()
        text = f"{done} of {in_all} plans made"
        if before < done < in_all:
            each_s = (time.monotonic() - self._begun) / (done - before)
            text += f", about {_time_text(each_s * (in_all - done))} left"
        elif done == before < in_all:
            text += "; the first ones take longest"
        self._line(done / max(1, in_all), text)

    def interrupted(self) -> str:
        """What a person should know who stopped it."""
        if not self.in_all:
            return (
                "Stopped. The calendars laid so far are kept; no file is written.\n"
                "The same command with only WORKBOOK, --out and --resume goes on."
            )
        return (
            f"Stopped. {self.done} of {self.in_all} plans are made and kept; no file is written.\n"
            "The same command with only WORKBOOK, --out and --resume goes on."
        )


def _time_text(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 90 else f"{seconds / 60:.0f} min"
