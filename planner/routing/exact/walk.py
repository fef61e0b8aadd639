"""A stop order priced with its clock kept: when each stop begins, what is left at the end."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from planner.routing.exact.route_cost import DayTables, Record, Timing, TruckDay
from planner.routing.problem import Loading, RoutingProblem, StopRef, TruckSpec


@dataclass(frozen=True)
class Walk:
    """A stop order priced. fault: a code of FAULTS, or None when every rule is kept; fault_stop:
    place in the stop order (its length = the return). cost: inf with a fault. load: of the first
    fill where it is in the clock (rule 38). timings: up to the fault. end_gal: what is in each
    compartment at the end of the day. beside_min: paid beside the clock, for loading the evening
    before."""

    fault: str | None
    fault_stop: int | None
    cost: float
    load: Timing | None
    return_min: float
    miles: float
    lunch_taken: bool
    timings: tuple[Timing, ...]
    end_gal: tuple[float, ...]
    beside_min: float

    @property
    def feasible(self) -> bool:
        """Whether every rule is kept."""
        return self.fault is None


def full_walk(
    day: TruckDay, stops: Sequence[int], waits: Mapping[int, float] | None = None
) -> Walk:
    """Price a stop order and keep its clock. waits: as of TruckDay.cost."""
    record = Record([])
    cost = day.cost(stops, record, waits)
    fault, at = day.fault if day.fault is not None else (None, None)
    if not stops:
        record.return_min, record.end_gal = day.start_min, tuple(day.tanks.start)
    return Walk(
        fault=fault,
        fault_stop=at,
        cost=cost,
        load=record.load,
        return_min=record.return_min,
        miles=record.miles,
        lunch_taken=record.lunched,
        timings=tuple(record.timings),
        end_gal=record.end_gal,
        beside_min=record.beside_min,
    )


def walk(
    problem: RoutingProblem, truck: TruckSpec, loading: Loading, stops: Sequence[StopRef]
) -> Walk:
    """Price one truck's stop order exactly. Raises KeyError on an unknown order or site."""
    tables = DayTables(problem)
    row = [other.truck_id for other in problem.trucks].index(truck.truck_id)
    return full_walk(TruckDay(tables, row, loading), tables.numbers(stops))
