"""Nothing that only POSIX has is used without a way for Windows, and no file gets a name that
Windows refuses: read from the sources. The lists are of Python's documentation (availability: Unix,
https://docs.python.org/3/library/os.html, signal.html, fcntl.html) and of Microsoft's page 'Naming
Files, Paths, and Namespaces'."""

from __future__ import annotations

import ast
import re
import tomllib
from pathlib import Path

from packaging.requirements import Requirement

from planner.papers.packet import truck_files

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "planner"
FILES = sorted(PACKAGE.rglob("*.py"))

MODULES = {"fcntl", "resource", "pwd", "grp", "termios", "tty", "pty", "curses", "syslog", "posix"}
OF_OS = set(
    [
        "fork",
        "forkpty",
        "getuid",
        "geteuid",
        "getgid",
        "getegid",
        "getpgid",
        "setsid",
        "killpg",
        "mkfifo",
        "mknod",
        "chown",
        "fchown",
        "lchown",
        "fchmod",
        "uname",
        "getloadavg",
        "nice",
        "sync",
        "sysconf",
        "sched_getaffinity",
        "statvfs",
        "wait",
        "wait3",
        "wait4",
        "pread",
        "pwrite",
        "posix_fallocate",
        "setuid",
        "initgroups",
        "rename",
        "O_DIRECTORY",
        "O_NOFOLLOW",
        "O_NONBLOCK",
    ]
)
"""os.rename fails on Windows where the target exists; os.replace does not."""
OF_SIGNAL = set(
    [
        "SIGKILL",
        "SIGHUP",
        "SIGQUIT",
        "SIGUSR1",
        "SIGUSR2",
        "SIGALRM",
        "SIGCHLD",
        "SIGPIPE",
        "SIGTSTP",
        "alarm",
        "setitimer",
        "pause",
        "sigwait",
        "pthread_kill",
        "pthread_sigmask",
    ]
)
PLACES = re.compile(r"/(tmp|dev|proc|etc|var|home|usr)/")
GUARD = re.compile(
    r"hasattr\(|os\.name|sys\.platform|getattr\(|"
    r"(except |suppress\()\(?(ImportError|AttributeError)"
)
RESERVED = {"con", "prn", "aux", "nul"}
RESERVED |= {f"{port}{number}" for port in ("com", "lpt") for number in range(10)}
REFUSED = set('<>:"|?*\\')


def posix_only(nodes: list[ast.AST]) -> list[tuple[int, str]]:
    """(line, what) of every use of what Windows does not have."""
    found = []
    for node in nodes:
        if isinstance(node, ast.Import):
            found += [(node.lineno, a.name) for a in node.names if a.name in MODULES]
        elif isinstance(node, ast.ImportFrom) and (node.module or "") in MODULES:
            found.append((node.lineno, node.module or ""))
        elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            names = {"os": OF_OS, "signal": OF_SIGNAL}.get(node.value.id, set())
            if node.attr in names:
                found.append((node.lineno, f"{node.value.id}.{node.attr}"))
        elif isinstance(node, ast.Constant) and node.value in ("fork", "forkserver"):
            found.append((node.lineno, f"start method {node.value}"))
        elif isinstance(node, ast.Constant) and PLACES.match(f"{str(node.value)[:6]}/"):
            found.append((node.lineno, str(node.value)))
    return found


def unguarded(source: str, nodes: list[ast.AST]) -> list[tuple[int, str]]:
    """Of these, the ones in functions (or modules) that never ask where they run."""
    functions = [n for n in nodes if isinstance(n, ast.FunctionDef | ast.AsyncFunctionDef)]
    lines = source.splitlines()
    found = []
    for line, what in posix_only(nodes):
        around = [f for f in functions if f.lineno <= line <= (f.end_lineno or f.lineno)]
        near = min(around, key=lambda f: (f.end_lineno or 0) - f.lineno, default=None)
        text = lines if near is None else lines[near.lineno - 1 : near.end_lineno]
        if not GUARD.search("\n".join(text)):
            found.append((line, what))
    return found


def test_the_reader_finds_what_it_looks_for() -> None:
    bad = "import os, signal, fcntl\ndef f():\n    os.fork()\n    signal.SIGKILL\n    '/tmp/x'\n"
    found = unguarded(bad, list(ast.walk(ast.parse(bad))))
    assert {what for _, what in found} == {"fcntl", "os.fork", "signal.SIGKILL", "/tmp/x"}
    good = "import os\ndef f():\n    if hasattr(os, 'getuid'):\n        os.getuid()\n"
    assert unguarded(good, list(ast.walk(ast.parse(good)))) == []
    opened = list(ast.walk(ast.parse("open('a')\nopen('b', 'rb')\nopen('c', encoding='utf-8')")))
    assert without_encoding(opened) == [(1, "open")]


def without_encoding(nodes: list[ast.AST]) -> list[tuple[int, str]]:
    """(line, what) of every text file that is opened without its encoding: Windows would take its
    own code page."""
    found = []
    for node in nodes:
        if not isinstance(node, ast.Call):
            continue
        name = getattr(node.func, "attr", getattr(node.func, "id", ""))
        if name not in ("open", "read_text", "write_text"):
            continue
        owner = getattr(getattr(node.func, "value", None), "id", "")
        given = {word.arg for word in node.keywords}
        modes = [a.value for a in node.args if isinstance(a, ast.Constant)]
        modes += [w.value.value for w in node.keywords if isinstance(w.value, ast.Constant)]
        binary = any(isinstance(m, str) and re.fullmatch(r"[rwax]b\+?", m) for m in modes)
        if "encoding" in given or binary or owner in ("os", "zipfile", "tarfile", "webbrowser"):
            continue
        if name == "open" and isinstance(node.func, ast.Attribute):
            continue  # a method of another kind: an archive, a gzip, a workbook
        found.append((node.lineno, name))
    return found


def test_nothing_is_used_that_only_posix_has_and_every_text_file_has_its_encoding() -> None:
    found = []
    for file in FILES:
        source = file.read_text(encoding="utf-8")
        nodes = list(ast.walk(ast.parse(source)))
        here = [*unguarded(source, nodes), *without_encoding(nodes)]
        found += [f"{file.relative_to(ROOT)}:{line}: {what}" for line, what in here]
    assert found == []


def test_no_file_has_a_name_that_windows_refuses() -> None:
    for file in PACKAGE.rglob("*"):
        name = file.name
        assert not REFUSED & set(name), file
        assert name.split(".")[0].lower() not in RESERVED, file
        assert not name.endswith((".", " ")), file


def test_a_truck_of_any_name_gets_files_that_windows_takes() -> None:
    files = truck_files(["con", "T:1", "a/b", "LPT1", "what?", "trailing.", "T 1", "t-1"])
    for file in files.values():
        assert not (REFUSED | {"/"}) & set(file)
        assert file.split(".")[0].lower() not in RESERVED
    assert len({file.lower() for file in files.values()}) == len(files)


def test_what_a_major_version_would_break_has_a_bound() -> None:
    """Every dependency of the product is pinned or ends below a version."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    open_ended = [row for row in project["dependencies"] if "<" not in row and "==" not in row]
    assert open_ended == []


def test_the_constraints_fit_the_bounds() -> None:
    """tests/constraints.txt pins every direct dependency once, within pyproject's bounds."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    lines = (ROOT / "tests" / "constraints.txt").read_text(encoding="utf-8").splitlines()
    pins = dict(line.lower().split("==") for line in lines if line and not line.startswith("#"))
    assert len(pins) == len([line for line in lines if line and not line.startswith("#")])
    for row in (*project["dependencies"], *project["optional-dependencies"]["test"]):
        wanted = Requirement(row)
        assert pins[wanted.name.lower()] in wanted.specifier, row
