"""Output folders that appear whole or not at all."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

import click

MARKS = ("plan.json", "comparison.json")
"""A folder holding one of these files is an earlier result and may be replaced; no other folder
is."""


def write_folder(target: Path, files: Mapping[str, str]) -> None:
    """Write the files (name -> text) as a folder: aside first, then renamed into place.

    An earlier result is replaced as a whole. Raises click.UsageError when the folder exists and
    is not one of ours.
    """
    target = target.resolve()
    refuse_foreign(target)
    target.parent.mkdir(parents=True, exist_ok=True)
    aside = Path(tempfile.mkdtemp(prefix=f".{target.name}-", dir=target.parent))
    try:
        for name, text in files.items():
            with (aside / name).open("w", encoding="utf-8", newline="\n") as file:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
        # mkdtemp makes a private folder; the result is for everybody who may read its parent.
        aside.chmod(0o755)
        _swap(aside, target)
    finally:
        shutil.rmtree(aside, ignore_errors=True)


def write_file(target: Path, text: str) -> None:
    """Write one file: aside first, then renamed into place. Raises OSError."""
    handle, name = tempfile.mkstemp(prefix=f".{target.name}-", dir=target.parent)
    aside = Path(name)
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        aside.chmod(0o644)
        aside.replace(target)
    finally:
        aside.unlink(missing_ok=True)


def refuse_foreign(target: Path) -> None:
    """Raise click.UsageError unless the folder is absent, empty or an earlier result."""
    if not target.exists():
        return
    if not target.is_dir():
        raise click.UsageError(f"{target} is a file; give a folder with --out")
    if any(target.iterdir()) and not any((target / mark).exists() for mark in MARKS):
        raise click.UsageError(
            f"{target} holds other files and no {' or '.join(MARKS)}; give another folder with "
            "--out"
        )


def _swap(aside: Path, target: Path) -> None:
    if not target.exists():
        aside.rename(target)
        return
    old = Path(tempfile.mkdtemp(prefix=f".{target.name}-old-", dir=target.parent))
    target.rename(old / target.name)
    try:
        aside.rename(target)
    except OSError:
        (old / target.name).rename(target)
        raise
    finally:
        shutil.rmtree(old, ignore_errors=True)
