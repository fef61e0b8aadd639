"""Built graphs kept on disk, so that the same extract is read once.

A cache file is named by everything that its graph depends on and says so again inside. One that
is broken, foreign or of another version is built anew. No pickles: nothing in it is executed.
"""

import contextlib
import dataclasses
import hashlib
import json
import os
import tempfile
import time
import zipfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from planner.caches import own_folder
from planner.outputs.local_folder import cache_folder
from planner.roads.graph import RoadGraph, build_graph
from planner.roads.limits import ANY_DAY, KINDS, Held, HoursWorked, held
from planner.roads.network import Box
from planner.roads.tags import RoadLabel
from planner.roads.travel import RoadError

FORMAT = "lawn spray day planner road graph"
FILES_KEPT = 24
"""The oldest graphs beyond this many are thrown away."""

LEFT_BEHIND_S = 86_400
"""Nobody writes a graph for a day."""

GRAPH_VERSION = 8
"""Raised whenever the reader or the graph is built differently, so that older cached graphs are
built anew."""

ARRAYS = tuple(
    f.name for f in dataclasses.fields(RoadGraph) if f.type not in ("int", "tuple[str, ...]")
)
TEXTS = tuple(f.name for f in dataclasses.fields(RoadGraph) if f.type == "tuple[str, ...]")
COUNTS = tuple(f.name for f in dataclasses.fields(RoadGraph) if f.type == "int")


def content_sha256(path: Path) -> str:
    """SHA-256 of a file. Raises RoadError when it cannot be read."""
    try:
        if path.exists() and not path.is_file():
            raise RoadError(f"the road extract {path.name} cannot be read: it is no plain file")
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        reason = error.strerror or "unreadable"
        raise RoadError(f"the road extract {path.name} cannot be read: {reason}") from error


def cache_file(sha256: str, clip: Box | None, gone: Sequence[str] = ()) -> Path:
    """The file in which a clip of an extract is kept. gone: conditions that do not hold."""
    key = hashlib.sha256(_identity(sha256, clip, gone).encode()).hexdigest()
    return cache_folder() / "roads" / f"{key[:40]}.npz"


def cached_graph(
    path: Path, clip: Box | None, worked: HoursWorked = ANY_DAY
) -> tuple[RoadGraph, str, bool]:
    """The graph of an extract, the extract's SHA-256, and whether it came from the cache. worked:
    what cannot hold then is left out. Raises RoadError when the extract cannot be read; a cache
    that cannot be used is no error."""
    sha256 = content_sha256(path)
    found, from_cache = _graph(path, sha256, clip, ())
    gone = sorted({text for text in found.conditions if held(text, worked) is Held.NEVER})
    if gone:
        found, from_cache = _graph(path, sha256, clip, gone)
    return found, sha256, from_cache


def _graph(
    path: Path, sha256: str, clip: Box | None, gone: Sequence[str]
) -> tuple[RoadGraph, bool]:
    identity = _identity(sha256, clip, gone)
    file = cache_file(sha256, clip, gone)
    may_keep = own_folder("roads") is not None
    graph = load_graph(file, identity) if may_keep else None
    if graph is not None:
        with contextlib.suppress(OSError):
            os.utime(file)  # So that graphs in use are not the oldest.
        return graph, True
    from planner.roads.reader import read_extract

    graph = build_graph(read_extract(path, clip, gone))
    if may_keep:
        with contextlib.suppress(OSError):
            save_graph(file, identity, graph)
    return graph, False


def _identity(sha256: str, clip: Box | None, gone: Sequence[str]) -> str:
    part = clip.text() if clip else "whole"
    return " ".join((f"{FORMAT} {GRAPH_VERSION} {sha256} {part}", *gone))


def save_graph(file: Path, identity: str, graph: RoadGraph) -> None:
    """Write a graph aside and rename it, so that a reader sees all of it or nothing, and two
    builders at once write the same file one after the other. Raises OSError."""
    file.parent.mkdir(parents=True, exist_ok=True)
    counts = {name: getattr(graph, name) for name in COUNTS}
    texts = {name: getattr(graph, name) for name in TEXTS}
    head = json.dumps({"identity": identity, "counts": counts, **texts})
    arrays = {name: getattr(graph, name) for name in ARRAYS}
    handle, aside = tempfile.mkstemp(suffix=".tmp", dir=file.parent)
    try:
        with os.fdopen(handle, "wb") as out:
            np.savez(out, about=np.frombuffer(head.encode(), dtype=np.uint8), **arrays)
        Path(aside).replace(file)
    finally:
        Path(aside).unlink(missing_ok=True)
    _throw_away_oldest(file.parent)


def _throw_away_oldest(folder: Path) -> None:
    ages = []
    for file in folder.glob("*.npz"):
        with contextlib.suppress(OSError):  # Another planner may have thrown it away.
            ages.append((file.stat().st_mtime, file))
    left_behind = []
    for file in folder.glob("*.tmp"):  # By a planner that was killed while it wrote.
        with contextlib.suppress(OSError):
            if time.time() - file.stat().st_mtime > LEFT_BEHIND_S:
                left_behind.append(file)
    for file in [file for _, file in sorted(ages, reverse=True)[FILES_KEPT:]] + left_behind:
        with contextlib.suppress(OSError):
            file.unlink()


def load_graph(file: Path, identity: str) -> RoadGraph | None:
    """The graph in a cache file, or None when there is none that can be trusted."""
    try:
        with np.load(file, allow_pickle=False) as stored:
            head = json.loads(stored["about"].tobytes())
            if head["identity"] != identity:
                return None
            arrays: dict[str, Any] = {name: stored[name] for name in ARRAYS}
            counts: dict[str, Any] = {name: int(head["counts"][name]) for name in COUNTS}
            texts: dict[str, Any] = {name: tuple(head[name]) for name in TEXTS}
            graph = RoadGraph(**arrays, **counts, **texts)
    except (OSError, ValueError, KeyError, TypeError, EOFError, zipfile.BadZipFile):
        return None
    return graph if _is_sound(graph) else None


def _is_sound(graph: RoadGraph) -> bool:
    """Whether all rows that arrays point to exist (the zip file's own checksums guard the rest)."""
    edges, points, states = len(graph.tail), len(graph.lat), len(graph.state_edge)
    per_edge: tuple[str, ...] = (
        "head",
        "open_forward",
        "open_backward",
        "ends_only",
        "may_stop",
        "truck_sign",
    )
    per_edge += ("drawn", "roundabout", "rank", "limits")
    per_point = ("lon", "length_tenth_ft", "forward_ms", "backward_ms", "point_label")
    per_arc = ("arc_end", "arc_ms", "arc_limits")
    return (
        edges > 0
        and all(len(getattr(graph, name)) == edges for name in per_edge)
        and all(len(getattr(graph, name)) == points for name in per_point)
        and all(len(getattr(graph, name)) == len(graph.arc_begin) for name in per_arc)
        and len(graph.start) == edges + 1
        and _rises(graph.start, points)
        and len(graph.water_lat) == len(graph.water_lon)
        and len(graph.water_start) == len(graph.water_name) + 1
        and _rises(graph.water_start, len(graph.water_lat))
        and graph.label_table.ndim == 2
        and graph.label_table.shape[1] == 1 + len(RoadLabel._fields)
        and _within(graph.point_label, len(graph.label_table))
        and _within(graph.label_table.ravel(), len(graph.names))
        and _within(graph.exit_name, len(graph.names))
        and _within(np.concatenate([graph.tail, graph.head]), len(graph.exit_name))
        and _within(graph.water_name, len(graph.names))
        and _within(graph.arc_begin, states)
        and _within(graph.arc_end, states)
        and _within(graph.state_edge, 2 * edges)
        and graph.limit_table.ndim == 2
        and graph.limit_table.shape[1] == len(KINDS)
        and _within(graph.limits, len(graph.limit_table))
        and _within(graph.arc_limits, len(graph.limit_table))
    )


def _rises(starts: np.ndarray[tuple[int, ...], np.dtype[np.int64]], end: int) -> bool:
    return bool(starts[0] == 0 and starts[-1] == end and (np.diff(starts) >= 0).all())


def _within(rows: np.ndarray[tuple[int, ...], np.dtype[np.int64]], count: int) -> bool:
    return len(rows) == 0 or bool(rows.min() >= 0 and rows.max() < count)
