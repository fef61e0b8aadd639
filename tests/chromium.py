"""A headless chromium for looking at pages: DOM after scripts, console, network log."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")

FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-scrollbars",
)

needs_chromium = pytest.mark.skipif(CHROMIUM is None, reason="no chromium on this machine")


@dataclass(frozen=True)
class Visit:
    """What a page did. dom: after its scripts; console: messages; requests: addresses asked of
    the network (files and data inside the page left out)."""

    dom: str
    console: tuple[str, ...]
    requests: tuple[str, ...]


def open_page(page: Path, folder: Path, size: str = "1300,900") -> Visit:
    """Open a file as a person would, and let its scripts run."""
    assert CHROMIUM
    log = folder / "net.json"
    done = subprocess.run(
        [
            CHROMIUM,
            *FLAGS,
            f"--user-data-dir={folder / 'profile'}",
            f"--log-net-log={log}",
            f"--window-size={size}",
            "--enable-logging=stderr",
            "--virtual-time-budget=4000",
            "--dump-dom",
            page.as_uri(),
        ],
        capture_output=True,
        text=True,
        check=True,
    )
    console = re.findall(r"CONSOLE[^\n]*", done.stderr)
    return Visit(done.stdout, tuple(console), _requests(log))


def _requests(log: Path) -> tuple[str, ...]:
    text = log.read_text(encoding="utf-8").rstrip().rstrip(",")
    if not text.endswith("}"):
        text += "]}"
    asked = [event.get("params", {}) for event in json.loads(text)["events"]]
    # The browser's own errands are asked by no page ('not an origin'); a file's page is 'null'.
    urls = {
        str(params["url"])
        for params in asked
        if "url" in params and params.get("initiator", "not an origin") != "not an origin"
    }
    return tuple(sorted(url for url in urls if re.match(r"(https?|wss?|ftp):", url)))
