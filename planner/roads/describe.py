"""What a road extract holds, in plain words."""

from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

from planner.roads.cache import cache_file, cached_graph
from planner.roads.limits import unread_words
from planner.roads.profile import build_profile, restrictions
from planner.roads.sphere import FT_PER_MILE
from planner.roads.tags import KM_PER_MILE


@dataclass(frozen=True)
class ExtractFacts:
    """Counts of an extract. *_km: length of road, each street once; dropped: roads that no truck
    can reach from the rest and come back; ends_only: roads that may begin or end a trip only;
    from_cache: whether the graph was there already; cache_file: where it is kept."""

    extract: str
    sha256: str
    south: float
    west: float
    north: float
    east: float
    roads_km: float
    junctions: int
    stretches: int
    one_way_km: float
    ends_only_km: float
    dropped_stretches: int
    dropped_km: float
    turn_rules: int
    turn_rules_unclear: int
    turn_rules_ignored: int
    named_streets: int
    low_or_weak_stretches: int
    limits_not_understood: tuple[str, ...]
    timed_rules: int
    all_day_rules: int
    from_cache: bool
    cache_file: str

    def as_json(self) -> dict[str, object]:
        """The facts by name."""
        return asdict(self)

    def lines(self) -> list[str]:
        """The facts for people."""
        cached = "opened from the cache" if self.from_cache else "built now for the cache"
        return [
            f"{self.extract}: roads a truck may drive",
            f"  area        lat {self.south:.4f} to {self.north:.4f}, "
            f"lon {self.west:.4f} to {self.east:.4f}",
            f"  roads       {self.roads_km:,.0f} km ({self.roads_km / KM_PER_MILE:,.0f} miles), "
            f"{self.named_streets:,} street names",
            f"  junctions   {self.junctions:,}, with {self.stretches:,} stretches between them",
            f"  one-way     {self.one_way_km:,.0f} km",
            f"  ends only   {self.ends_only_km:,.0f} km (private, destination, driveways, behind "
            "gates: a trip may begin or end there, not pass through)",
            f"  turn rules  {self.turn_rules:,} kept; {self.turn_rules_ignored:,} left out because "
            f"timed or incomplete; {self.turn_rules_unclear:,} because their streets do not meet",
            f"  limits      {self.low_or_weak_stretches:,} stretches with a limit of height, "
            "weight, axle load, length or width",
            f"  some hours  {self.all_day_rules:,} limits, closures and barred turns count all day "
            "on the days they hold",
            f"  not read    {unread_words(self.limits_not_understood) or 'no limit'}; "
            f"rules on conditions that are not followed: {self.timed_rules:,}",
            f"  dropped     {self.dropped_stretches:,} stretches, {self.dropped_km:,.1f} km, that "
            "cannot be reached from the rest and left again",
            f"  graph       {cached}: {self.cache_file}",
        ]


def describe(path: Path) -> ExtractFacts:
    """Facts of a whole extract (not clipped). Raises RoadError when it cannot be read."""
    graph, sha256, from_cache = cached_graph(path, None)
    profile = build_profile(graph, restrictions(graph, None))
    km = graph.edge_totals()[0][0::2] / 10.0 / FT_PER_MILE * KM_PER_MILE
    one_way = graph.open_forward != graph.open_backward
    limited = np.isfinite(graph.limit_table[graph.limits]).any(axis=1)
    return ExtractFacts(
        extract=path.name,
        sha256=sha256,
        south=float(graph.lat.min()),
        west=float(graph.lon.min()),
        north=float(graph.lat.max()),
        east=float(graph.lon.max()),
        roads_km=round(float(km.sum()), 1),
        junctions=graph.junction_count(),
        stretches=graph.edge_count,
        one_way_km=round(float(km[one_way].sum()), 1),
        ends_only_km=round(float(km[graph.ends_only].sum()), 1),
        dropped_stretches=profile.dropped_edges,
        dropped_km=round(profile.dropped_tenth_ft / 10.0 / FT_PER_MILE * KM_PER_MILE, 2),
        turn_rules=graph.turn_rules_used,
        turn_rules_unclear=graph.turn_rules_unclear,
        turn_rules_ignored=graph.turn_rules_ignored,
        named_streets=len({name for name in graph.point_name.tolist() if name}),
        low_or_weak_stretches=int(limited.sum()),
        limits_not_understood=graph.unread_limits,
        timed_rules=graph.timed_rules,
        all_day_rules=len(graph.conditions),
        from_cache=from_cache,
        cache_file=str(cache_file(sha256, None)),
    )
