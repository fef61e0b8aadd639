"""How commands end: Ctrl-C, closed pipes, full disks behind the output, terminals of few letters.

128 + signal number is how shells tell of a signal (POSIX.1-2017, Shell & Utilities 2.8.2)."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from planner.__main__ import INTERRUPTED
from planner.cli.common import EXIT_CODES

ROOT = Path(__file__).resolve().parents[1]
COLUMNS = [sys.executable, "-m", "planner", "columns", "orders"]


def ended(words: list[str], **how: object) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(words, cwd=ROOT, capture_output="stdout" not in how, check=False, **how)  # type: ignore[call-overload,no-any-return]


def test_reader_that_goes_away_is_told_by_the_exit_code_alone() -> None:
    process = subprocess.Popen(COLUMNS, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.close()
    assert process.stderr.read() == b"" or b"Traceback" not in process.stderr.read()
    assert process.wait() == 141
    assert 141 in EXIT_CODES


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")
def test_full_disk_behind_the_output() -> None:
    with Path("/dev/full").open("wb") as full:
        done = ended(COLUMNS, stdout=full, stderr=subprocess.PIPE)
    assert done.returncode == 5
    assert b"Traceback" not in done.stderr
    assert b"cannot be written" in done.stderr


@pytest.mark.parametrize("closed", [">&-", "2>&-", ">&- 2>&-", "<&-"])
def test_closed_streams(closed: str) -> None:
    line = f"exec {' '.join(COLUMNS)} {closed}"
    done = ended(["bash", "-c", line])
    assert done.returncode == 0
    assert done.stderr == b""


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp437"])
def test_terminal_of_few_letters(encoding: str) -> None:
    for words in (COLUMNS, [*COLUMNS[:3], "check", "/nowhere/→/Ω"]):
        done = ended(words, env={**os.environ, "PYTHONIOENCODING": encoding})
        assert done.returncode in (0, 2)
        assert b"Traceback" not in done.stderr


def test_file_name_that_is_no_text() -> None:
    done = ended([*COLUMNS[:3], "check", os.fsdecode(b"/tmp/\xff\xfe\x80")])
    assert done.returncode == 2
    assert b"Traceback" not in done.stderr


@pytest.mark.parametrize("moment", [0.03, 0.08, 0.15, 0.3, 0.6])
def test_ctrl_c_while_it_starts(moment: float) -> None:
    """Also while Python itself and the imports run: before that, nobody can catch it."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        process = subprocess.Popen(
            [sys.executable, "-m", "planner", "check", "demo_data/spring_day"],
            cwd=ROOT,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )
    finally:
        signal.signal(signal.SIGINT, before)
    time.sleep(moment)
    process.send_signal(signal.SIGINT)
    _, errors = process.communicate()
    if b"Traceback" in errors:  # Of Python's own start, which ends where it has found run().
        assert b"in run\n" not in errors, errors.decode()
    else:
        assert process.returncode in (0, INTERRUPTED, -signal.SIGINT)
        assert errors.strip() in (b"", b"Interrupted.")
