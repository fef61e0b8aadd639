"""Times and miles against a plain second implementation.

The second implementation knows nothing of edges, states, thinning, packing or scipy: it walks from
node to node of the sketch with Python's heap, and applies the meaning of the rules to the last
two nodes. Expected values are therefore ours twice over, worked in two ways.
"""

from __future__ import annotations

import heapq
import math
import random
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from planner.roads.profile import pack, unpack
from planner.roads.search import Arcs, thin
from planner.roads.speeds import (
    CLASSES,
    LEFT_TURN_S,
    RIGHT_TURN_S,
    SIGNAL_S,
    TURN_DEG,
    U_TURN_S,
)
from tests.few import few
from tests.roads_sketch import Sketch, place

MPH = CLASSES["residential"].mph
OPEN, ENDS_ONLY = "open", "ends only"


def random_town(seed: int) -> Sketch:
    """A crooked grid of straight streets: some one-way, some private, with turn rules and signals.
    Every street is a way of its own from corner to corner."""
    rng = random.Random(seed)
    side = rng.randint(2, 4)
    sketch = Sketch()
    for i in range(side):
        for j in range(side):
            signal = {"highway": "traffic_signals"} if rng.random() < 0.15 else {}
            x, y = 900 * i + rng.uniform(-250, 250), 900 * j + rng.uniform(-250, 250)
            sketch.node(f"n{i}_{j}", x, y, **signal)
    for i in range(side):
        for j in range(side):
            for k, m in ((i + 1, j), (i, j + 1)):
                if k < side and m < side and rng.random() < 0.95:
                    tags = {}
                    if rng.random() < 0.12:
                        tags["oneway"] = rng.choice(["yes", "-1"])
                    if rng.random() < 0.08:
                        tags["access"] = "private"
                    sketch.way(f"s{i}_{j}_{k}_{m}", f"n{i}_{j} n{k}_{m}", **tags)
    streets = {name: nodes for name, (nodes, _) in sketch.ways.items()}
    for _ in range(rng.randint(0, 2 * side)):
        start = rng.choice(sorted(streets))
        via = rng.choice(streets[start])
        others = [s for s, nodes in streets.items() if via in nodes and s != start]
        if others:
            kind = rng.choice(["no_left_turn", "only_straight_on", "no_right_turn"])
            sketch.rule(kind, start, via, rng.choice(sorted(others)))
    return sketch


class Plain:
    """Heap search over (node before, node, phase). phase: 0 on the private street of the start,
    1 on open streets, 2 on a private street that the trip will end on."""

    def __init__(self, sketch: Sketch) -> None:
        self.sketch = sketch
        self.street: dict[tuple[str, str], str] = {}
        self.kind: dict[str, str] = {}
        for name, (nodes, tags) in sketch.ways.items():
            a, b = nodes
            self.kind[name] = ENDS_ONLY if tags.get("access") == "private" else OPEN
            if tags.get("oneway") != "-1":
                self.street[a, b] = name
            if tags.get("oneway") != "yes":
                self.street[b, a] = name
        self.degree: dict[str, int] = {}
        for nodes, _ in sketch.ways.values():
            for node in nodes:
                self.degree[node] = self.degree.get(node, 0) + 1
        self.no: set[tuple[str, str, str]] = set()
        self.only: dict[tuple[str, str], set[str]] = {}
        for tags, members in sketch.rules:
            start, via, end = (name for _, name, _ in members)
            if tags["restriction"].startswith("no_"):
                self.no.add((start, via, end))
            elif self._driven(start, via) and self._leads_out(via, end):
                self.only.setdefault((start, via), set()).add(end)

    def _driven(self, street: str, to: str) -> bool:
        return any(s == street and b == to for (_, b), s in self.street.items())

    def _leads_out(self, node: str, street: str) -> bool:
        return any(s == street and a == node for (a, _), s in self.street.items())

    def feet(self, a: str, b: str) -> float:
        ax, ay, _ = self.sketch.nodes[a]
        bx, by, _ = self.sketch.nodes[b]
        return math.hypot(bx - ax, by - ay)

    def allowed(self, a: str, b: str) -> list[str]:
        """Next nodes that signs allow after driving a to b, turning on the spot included."""
        here = self.street[a, b]
        return [
            q
            for (p, q), street in self.street.items()
            if p == b
            and (here, b, street) not in self.no
            and street in self.only.get((here, b), {street})
        ]

    def turns(self, a: str, b: str) -> list[tuple[str, float]]:
        """Next nodes after driving a to b, with seconds of the turn. The road ends where nothing
        goes on that comes back, or only private streets do."""
        here_private = self.kind[self.street[a, b]] == ENDS_ONLY
        allowed = self.allowed(a, b)
        onward = [q for q in allowed if q != a]
        ends = not any(
            (here_private or self.kind[self.street[b, q]] == OPEN)
            and self.comes_back((b, q), (a, b))
            for q in onward
        )
        return [(q, self.seconds(a, b, q)) for q in (allowed if ends else onward)]

    def comes_back(self, after: tuple[str, str], to: tuple[str, str]) -> bool:
        seen, stack = {after}, [after]
        while stack:
            a, b = stack.pop()
            if (a, b) == to:
                return True
            new = {(b, q) for q in self.allowed(a, b)} - seen
            seen |= new
            stack += new
        return False

    def seconds(self, a: str, b: str, c: str) -> float:
        tags = self.sketch.nodes[b][2]
        total = SIGNAL_S if "highway" in tags else 0.0
        if c == a:
            return total + U_TURN_S
        if self.degree[b] <= 2:
            return total
        (ax, ay, _), (bx, by, _), (cx, cy, _) = (self.sketch.nodes[n] for n in (a, b, c))
        turn = math.degrees(math.atan2(cx - bx, cy - by) - math.atan2(bx - ax, by - ay))
        turn = (turn + 180) % 360 - 180
        return total + (
            LEFT_TURN_S if turn <= -TURN_DEG else RIGHT_TURN_S if turn >= TURN_DEG else 0.0
        )

    def minutes(self, start: tuple[str, str], end: tuple[str, str]) -> float:
        """From the middle of one street to the middle of another (as pairs of nodes), leaving and
        arriving in either sense."""
        best = math.inf
        goals = {pair: self.feet(*pair) / 2 for pair in (end, end[::-1]) if pair in self.street}
        kind_end = self.kind[self.street.get(end) or self.street[end[::-1]]]
        queue: list[tuple[float, str, str, int]] = []
        for pair in (start, start[::-1]):
            if pair in self.street:
                phase = 1 if self.kind[self.street[pair]] == OPEN else 0
                queue.append((self.drive_s(self.feet(*pair) / 2), *pair, phase))
        heapq.heapify(queue)
        seen: set[tuple[str, str, int]] = set()
        while queue:
            spent, a, b, phase = heapq.heappop(queue)
            if spent >= best:
                break
            if (a, b, phase) in seen:
                continue
            seen.add((a, b, phase))
            for c, turn_s in self.turns(a, b):
                is_open = self.kind[self.street[b, c]] == OPEN
                if phase == 2 and is_open:
                    continue
                after = 1 if is_open else (0 if phase == 0 else 2)
                if (b, c) in goals and (kind_end == OPEN) == is_open:
                    best = min(best, spent + turn_s + self.drive_s(goals[b, c]))
                whole = self.drive_s(self.feet(b, c))
                heapq.heappush(queue, (spent + turn_s + whole, b, c, after))
        return best / 60

    @staticmethod
    def drive_s(feet: float) -> float:
        return feet / 5280 / MPH * 3600


@settings(max_examples=few(20, of=60))
@given(seed=st.integers(0, 10**9))
def test_against_a_plain_heap_search(seed: int) -> None:
    sketch = random_town(seed)
    assume(len(sketch.ways) >= 3)
    with TemporaryDirectory() as folder:
        roads = sketch.roads(Path(folder))
    profile = roads.profile()
    # Where a part of the town is cut off or only to be had through a private street, the planner
    # treats it as a private street itself; the plain search does not know that.
    assume(profile.dropped_edges == 0)
    main = profile.through_edges
    assume(main == int((~roads.graph.ends_only).sum()))
    directed_open = np.stack([roads.graph.open_forward, roads.graph.open_backward], axis=1)
    assume(bool((profile.usable.reshape(-1, 2) == directed_open).all()))
    plain = Plain(sketch)
    streets = sorted(sketch.ways)
    middles = {}
    for name in streets:
        a, b = sketch.ways[name][0]
        (ax, ay, _), (bx, by, _) = sketch.nodes[a], sketch.nodes[b]
        middles[name] = place(name, (ax + bx) / 2, (ay + by) / 2)
    chosen = streets[:: max(1, len(streets) // 6)]
    travel = roads.travel([middles[name] for name in chosen])
    for i, start in enumerate(chosen):
        for j, end in enumerate(chosen):
            if i == j:
                continue
            pair = tuple(sketch.ways[start][0]), tuple(sketch.ways[end][0])
            expected = plain.minutes(*pair)
            assert travel.minutes[i, j] == pytest.approx(expected, rel=2e-3, abs=1e-3), (
                start,
                end,
            )
            leg = roads.leg_with_sums(middles[start], middles[end])
            assert leg[1:] == (travel.minutes[i, j], travel.miles[i, j])


@given(
    st.lists(st.tuples(st.integers(0, 11), st.integers(0, 11), st.integers(0, 50)), max_size=60),
    st.sets(st.integers(0, 11)),
)
def test_thinning_changes_no_distance(arcs, kept):
    def distances(edges, size):
        away = np.full((size, size), np.inf)
        np.fill_diagonal(away, 0)
        for a, b, w in edges:
            away[a, b] = min(away[a, b], w)
        for k in range(size):  # Floyd and Warshall.
            away = np.minimum(away, away[:, [k]] + away[[k], :])
        return away

    begin, end, weight = (np.array([arc[i] for arc in arcs], dtype=np.int64) for i in range(3))
    keep = np.isin(np.arange(12), sorted(kept))
    thinned = thin(Arcs(begin, end, weight.astype(np.float64)), keep)
    after = zip(thinned.begin, thinned.end, thinned.weight, strict=True)
    rows = np.flatnonzero(keep)
    assert np.array_equal(
        distances(arcs, 12)[np.ix_(rows, rows)], distances(after, 12)[np.ix_(rows, rows)]
    )


@given(st.integers(0, 2**27 - 1), st.integers(0, 2**26 - 1))
def test_packed_weights_come_apart_exactly(ms, tenth_ft):
    back = unpack(pack(np.array([ms]), np.array([tenth_ft])))
    assert (back[0][0], back[1][0]) == (ms, tenth_ft)
