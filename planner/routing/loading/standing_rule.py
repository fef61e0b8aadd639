"""Loadings by a standing rule, as a crew chief would load: the mix that the day needs most goes
into the largest compartment of every truck, the next one into the next."""

from __future__ import annotations

from planner.routing.problem import Loading, RoutingProblem, TruckSpec


def standing_loadings(problem: RoutingProblem, *, exchanged: bool = False) -> list[Loading]:
    """A loading per truck, the allowed one most like the rule. exchanged: every other truck has
    the mixes needed second and third most the other way round. Every truck must have a loading."""
    need: dict[str, float] = {}
    for order in problem.orders:
        need[order.mix_id] = need.get(order.mix_id, 0.0) + order.gal
    ranked = sorted(need, key=lambda mix_id: (-need[mix_id], mix_id))
    turned = [*ranked[:1], *ranked[1:3][::-1], *ranked[3:]]
    return [
        _nearest(truck, _wanted(truck, turned if exchanged and row % 2 else ranked, need))
        for row, truck in enumerate(problem.trucks)
    ]


def _wanted(truck: TruckSpec, ranked: list[str], need: dict[str, float]) -> list[str]:
    """A mix for each compartment: the largest compartments get one mix each, in this order; each
    further one goes to the mix that has least room for what is needed of it."""
    rows = sorted(
        range(len(truck.compartments)), key=lambda row: (-truck.compartments[row].capacity_gal, row)
    )
    room = dict.fromkeys(ranked, 0.0)
    wanted = [""] * len(rows)
    for rank, row in enumerate(rows):
        if rank < len(ranked):
            mix_id = ranked[rank]
        else:
            mix_id = min(ranked, key=lambda name: room[name] / need[name])
        wanted[row] = mix_id
        room[mix_id] += truck.compartments[row].capacity_gal
    return wanted


def _nearest(truck: TruckSpec, wanted: list[str]) -> Loading:
    """The truck's loading with most gallons as wanted; the earlier one of two alike."""

    def agrees_gal(loading: Loading) -> float:
        return sum(
            part.capacity_gal
            for part, mix_id, wish in zip(truck.compartments, loading.mix_of, wanted, strict=True)
            if mix_id == wish
        )

    return max(truck.loadings, key=agrees_gal)
