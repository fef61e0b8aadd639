"""Where a truck stands that is out already, and what it has on board."""

from __future__ import annotations

from dataclasses import dataclass

from planner.routing.problem import Loading


@dataclass(frozen=True)
class Standing:
    """A truck in the middle of its day. place_id: where it stands; free_min: it goes on from then;
    miles: driven so far; lunched: had its lunch; loading: of this morning, it stays; level_gal,
    inside: gallons in each compartment and the mix that they are, None = clean; hose_mix: by line,
    the mix that its hose holds, None = empty. lunch_begin_min: of a lunch that it has while it
    stands there until free_min (lunched is then true), None = it has none there."""

    place_id: str
    free_min: float
    miles: float
    lunched: bool
    loading: Loading
    level_gal: dict[str, float]
    inside: dict[str, str | None]
    hose_mix: dict[str, str | None]
    lunch_begin_min: float | None = None
