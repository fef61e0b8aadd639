"""A planned day as the store keeps it, and the levels that follow from what was really done."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any, Final

from planner.day.day import Workbook
from planner.day.fleet import Caught, Compartment
from planner.mixing.containers import Containers, together
from planner.mixing.fills import Level, draw
from planner.plan.caught import as_told, with_handed
from planner.plan.model import Plan, Stop, TruckPlan
from planner.records.sheet import FILL, LEFT, SPRAY
from planner.records.store import Body

LEVEL_SLACK_GAL: Final = 1.0
LEVEL_SLACK_SHARE: Final = 0.03
"""A sight gauge on a truck that stands on a slope is read to about a gallon or 3 % of the
compartment, whichever is more (common practice, no source)."""

CONTAINER: Final = "service container"
"""In the place of a compartment: mix that was caught from a hose."""

BEFORE_DEPARTURE_MIN: Final = -1.0


@dataclass(frozen=True)
class Tank:
    """One compartment on that day. start_gal, start_mix: before the first fill, after cleaning;
    mix_id: what it was loaded with, None = nothing; table_gal, table_mix: what the compartments
    table said when the day was recorded."""

    compartment_id: str
    capacity_gal: float
    heel_gal: float
    line_id: str
    position: int
    start_gal: float
    start_mix: str | None
    mix_id: str | None
    table_gal: float
    table_mix: str | None

    @property
    def slack_gal(self) -> float:
        """How far a reading of its level may be off."""
        return max(LEVEL_SLACK_GAL, LEVEL_SLACK_SHARE * self.capacity_gal)


@dataclass(frozen=True)
class Step:
    """One planned fill, order, or level at the end of the day. subject: its name in the store."""

    subject: str
    what: str
    stop: int
    place_id: str
    mix_id: str
    gal: float
    compartment_id: str = ""
    order_id: str = ""
    line_id: str = ""
    area_ft2: float = 0.0
    start_min: float = 0.0
    end_min: float = 0.0
    before_departure: bool = False


@dataclass(frozen=True)
class LoggedTruckDay:
    """One truck's planned day. hose_gal: of each line; hose_mix: what its hose held in the morning,
    None = empty; table_hose_mix: what the lines table said when the day was recorded; rinsed: lines
    through whose hose a compartment was rinsed; containers, table_containers: (mix, gallons) in
    service containers in the morning, None = the day was recorded before they were kept, and by the
    table."""

    truck_id: str
    tanks: tuple[Tank, ...]
    hose_gal: dict[str, float]
    steps: tuple[Step, ...]
    hose_mix: dict[str, str | None] = field(default_factory=dict)
    table_hose_mix: dict[str, str | None] = field(default_factory=dict)
    rinsed: tuple[str, ...] = ()
    containers: tuple[tuple[str, float], ...] | None = None
    table_containers: tuple[tuple[str, float], ...] = ()

    def tank(self, compartment_id: str) -> Tank:
        """The compartment of that name. Raises StopIteration without it."""
        return next(tank for tank in self.tanks if tank.compartment_id == compartment_id)


@dataclass(frozen=True)
class Finding:
    """A level that cannot be. subject: of the step at which it shows."""

    subject: str
    code: str
    message: str


@dataclass(frozen=True)
class Replayed:
    """What follows from a truck's records. level_gal: at the end of the day; mix_of: what is in
    each compartment, None = clean; hose_mix: in each hose; containers: what was caught and is not
    sprayed. draws: order's subject -> (compartment,
    gallons, subject of the fill that they came from, '' = from the day before); strength: order's
    subject -> product -> share of the recipe that what it got holds, as its fills were measured.
    before_gal: fill's subject -> level under it, the one that was read where one was. still_open:
    subjects without a record."""

    level_gal: dict[str, float]
    mix_of: dict[str, str | None]
    hose_mix: dict[str, str | None]
    containers: tuple[Caught, ...]
    draws: dict[str, tuple[tuple[str, float, str], ...]]
    strength: dict[str, dict[str, float]]
    before_gal: dict[str, float]
    findings: tuple[Finding, ...]
    still_open: tuple[str, ...]


def order_subject(day: str, order_id: str) -> str:
    """An order is sprayed or skipped once a day, whatever plan it stood in."""
    return f"{day} order {order_id}"


def truck_days(
    plan: Plan, checksum: str, seen: Workbook, table: Workbook
) -> tuple[LoggedTruckDay, ...]:
    """The trucks that go out. seen: the tables as the plan saw them (with records of days before);
    table: as they are written. Raises KeyError for a truck that is not in service.

    Fills that were done when the day was planned again are those of the earlier plan: what is
    recorded of them under its name is not recorded once more. Levels and fills are those that the
    papers tell (planner/plan/caught.py)."""
    seen = with_handed(plan, seen)
    plan = as_told(plan, seen)
    return tuple(
        _truck_day(row, tuple(_steps(plan, checksum, row)), seen, table)
        for row in plan.trucks
        if any(stop.orders or stop.fills for stop in row.stops)
    )


def planned_steps(plan: Plan, checksum: str) -> tuple[Step, ...]:
    """Every fill, order and level at the end of the day, truck by truck, as the store names them.
    checksum: of the plan's text, as the sheets print it."""
    return tuple(step for row in plan.trucks for step in _steps(plan, checksum, row))


def to_body(plan: Plan, trucks: tuple[LoggedTruckDay, ...]) -> Body:
    """The planned day as plain JSON."""
    return {
        "date": plan.date,
        "workbook_sha256": plan.workbook_sha256,
        "trucks": [asdict(truck) for truck in trucks],
    }


def from_body(body: Body) -> tuple[LoggedTruckDay, ...]:
    """The trucks of a planned day out of the store."""
    return tuple(
        LoggedTruckDay(
            row["truck_id"],
            tuple(Tank(**tank) for tank in row["tanks"]),
            row["hose_gal"],
            tuple(Step(**step) for step in row["steps"]),
            # Days that were recorded before hoses were carried over say nothing of them.
            row.get("hose_mix", {}),
            row.get("table_hose_mix", {}),
            tuple(row.get("rinsed", ())),
            _pairs(row["containers"]) if row.get("containers") is not None else None,
            _pairs(row.get("table_containers", ())),
        )
        for row in body["trucks"]
    )


def _pairs(rows: Iterable[Iterable[Any]]) -> tuple[tuple[str, float], ...]:
    return tuple((mix_id, gal) for mix_id, gal in rows)


def replay(truck: LoggedTruckDay, done: Mapping[str, Body]) -> Replayed:
    """Levels step by step in the order of the clock. done: subject -> what was recorded."""
    walk = _Walk(truck)
    for step in _by_the_clock(truck, done):
        body = done[step.subject]
        if step.what == FILL and body["done"]:
            if body.get("level_read_gal") is not None:
                walk.measure(step, float(body["level_read_gal"]))
            walk.fill(step, float(body["gal"]), body.get("products", ()))
        elif step.what == SPRAY and body["done"]:
            walk.spray(step, float(body["gal"]))
    for step in truck.steps:
        if step.what == LEFT and step.subject in done and done[step.subject]["done"]:
            walk.measure(step, float(done[step.subject]["gal"]))
    return Replayed(
        level_gal={name: max(0.0, level.gal) for name, level in walk.by_name().items()},
        mix_of=dict(walk.inside),
        hose_mix=walk.hose_mix,
        containers=together(Caught(mix_id, gal) for _, mix_id, gal in walk.containers.left()),
        draws=walk.draws,
        strength=walk.sprayed,
        before_gal=walk.before_gal,
        findings=tuple(walk.findings),
        # A level that nobody measured is worked out; it is not open.
        still_open=tuple(
            step.subject for step in truck.steps if step.what != LEFT and step.subject not in done
        ),
    )


def _truck_day(
    row: TruckPlan, steps: tuple[Step, ...], seen: Workbook, table: Workbook
) -> LoggedTruckDay:
    truck = seen.trucks[row.truck_id]
    written = table.trucks[row.truck_id]
    return LoggedTruckDay(
        truck_id=row.truck_id,
        tanks=tuple(
            _tank(row, tank, written.compartment(tank.compartment_id))
            for tank in truck.compartments
        ),
        hose_gal={line.line_id: line.hose_gal for line in truck.lines},
        steps=steps,
        hose_mix=truck.hose_mix,
        table_hose_mix=written.hose_mix,
        rinsed=tuple(
            dict.fromkeys(truck.compartment(one.compartment_id).line_id for one in row.cleaning)
        ),
        containers=tuple((one.mix_id, one.gal) for one in truck.service_containers),
        table_containers=tuple((one.mix_id, one.gal) for one in written.service_containers),
    )


def _tank(row: TruckPlan, tank: Compartment, written: Compartment) -> Tank:
    name = tank.compartment_id
    cleaned = any(entry.compartment_id == name for entry in row.cleaning)
    return Tank(
        compartment_id=name,
        capacity_gal=tank.capacity_gal,
        heel_gal=tank.heel_gal,
        line_id=tank.line_id,
        position=tank.position,
        start_gal=row.start_gal.get(name, 0.0),
        start_mix=None if cleaned else tank.last_mix,
        mix_id=row.loading.get(name),
        table_gal=written.leftover_gal,
        table_mix=written.last_mix,
    )


def _steps(plan: Plan, checksum: str, row: TruckPlan) -> Iterator[Step]:
    date = plan.date
    # Its done stops were planned in the earlier plan.
    before = checksum if plan.again is None else plan.again.earlier_sha256[: len(checksum)]
    for stop in row.stops:
        yield from _fills(date, before if stop.done else checksum, row.truck_id, stop)
        for work in stop.orders:
            yield Step(
                subject=order_subject(date, work.order_id),
                what=SPRAY,
                stop=stop.seq,
                place_id=stop.place_id,
                mix_id=work.mix_id,
                gal=work.gal,
                order_id=work.order_id,
                line_id=work.line_id,
                area_ft2=work.area_ft2,
                start_min=work.begin_min,
                end_min=work.end_min,
            )
    for name, mix_id in row.loading.items():
        if mix_id is not None:
            yield Step(
                subject=f"{date} left in {row.truck_id} compartment {name} (plan {checksum})",
                what=LEFT,
                stop=row.stops[-1].seq,
                place_id="",
                mix_id=mix_id,
                gal=row.end_gal.get(name, 0.0),
                compartment_id=name,
            )


def _fills(date: str, checksum: str, truck_id: str, stop: Stop) -> Iterator[Step]:
    for fill in stop.fills:
        yield Step(
            subject=f"{date} fill of {truck_id} compartment {fill.compartment_id} at stop "
            f"{stop.seq} (plan {checksum})",
            what=FILL,
            stop=stop.seq,
            place_id=stop.place_id,
            mix_id=fill.mix_id,
            gal=fill.gal,
            compartment_id=fill.compartment_id,
            start_min=stop.begin_min,
            before_departure=stop.kind == "depart",
        )


def _by_the_clock(truck: LoggedTruckDay, done: Mapping[str, Body]) -> list[Step]:
    """Recorded fills and orders as they happened. A fill without a time stands where the plan has
    it: after what the plan has before it."""
    timed: list[tuple[float, int, Step]] = []
    now = BEFORE_DEPARTURE_MIN
    for place, step in enumerate(truck.steps):
        body = done.get(step.subject)
        if body is None or step.what == LEFT:
            continue
        start: Any = body.get("start_min")
        if step.what == FILL and step.before_departure:
            start = BEFORE_DEPARTURE_MIN
        at = now if start is None else float(start)
        timed.append((at, place, step))
        now = max(now, float(body.get("end_min") or at))
    return [step for _, _, step in sorted(timed, key=lambda row: row[:2])]


class _Walk:
    def __init__(self, truck: LoggedTruckDay) -> None:
        self.truck = truck
        self.tanks = {tank.compartment_id: tank for tank in truck.tanks}
        self.levels = tuple(
            Level(
                tank.compartment_id,
                tank.mix_id,
                tank.capacity_gal,
                tank.heel_gal,
                tank.start_gal,
                0.0,
            )
            for tank in sorted(truck.tanks, key=lambda tank: tank.position)
        )
        self.inside = {tank.compartment_id: tank.start_mix for tank in truck.tanks}
        self.last_fill = dict.fromkeys(self.tanks, "")
        self.hose_mix = dict(truck.hose_mix)
        self.containers = Containers[str]()
        for mix_id, gal in truck.containers or ():
            self.containers.catch(mix_id, gal, "")
        for line_id in truck.rinsed:
            self._catch(line_id)
            self.hose_mix[line_id] = None
        self.draws: dict[str, tuple[tuple[str, float, str], ...]] = {}
        # What was there in the morning counts as mixed by its recipe.
        self.strength: dict[str, dict[str, float]] = {name: {} for name in self.tanks}
        self.sprayed: dict[str, dict[str, float]] = {}
        self.before_gal: dict[str, float] = {}
        self.findings: list[Finding] = []

    def by_name(self) -> dict[str, Level]:
        return {level.compartment_id: level for level in self.levels}

    def fill(self, step: Step, gal: float, products: Iterable[Body]) -> None:
        name = step.compartment_id
        level = self.by_name()[name]
        after = level.gal + gal
        self.before_gal[step.subject] = level.gal
        known = self.strength[name]
        for one in products if gal > 0 else ():
            had = max(0.0, level.gal) * known.get(one["product_id"], 1.0)
            got = gal * one["amount"] / one["by_recipe"] if one["by_recipe"] else gal
            known[one["product_id"]] = (had + got) / (max(0.0, level.gal) + gal)
        if after > level.capacity_gal + self.tanks[name].slack_gal:
            self.findings.append(
                Finding(
                    step.subject,
                    "REC-7",
                    f"compartment {name} held {level.gal:.1f} gal; with {gal:g} gal more it is "
                    f"above its {level.capacity_gal:g} gal",
                )
            )
        self._set(name, min(after, level.capacity_gal))
        self.inside[name] = step.mix_id
        if gal > 0:
            self.last_fill[name] = step.subject

    def spray(self, step: Step, gal: float) -> None:
        hose = 0.0
        # What was caught is sprayed on the next lawn that takes it, as the sheets say.
        caught = sum(takes for _, takes in self.containers.spray(step.mix_id, gal))
        if self.hose_mix.get(step.line_id) != step.mix_id:
            hose = self.truck.hose_gal.get(step.line_id, 0.0)
            self._catch(step.line_id)
            self.hose_mix[step.line_id] = step.mix_id
        held = sum(level.gal for level in self.levels if level.mix_id == step.mix_id)
        slack = sum(tank.slack_gal for tank in self.tanks.values() if tank.mix_id == step.mix_id)
        if gal - caught + hose > held + slack:
            hose_text = f" and {hose:.1f} gal in the hose" if hose else ""
            self.findings.append(
                Finding(
                    step.subject,
                    "REC-6",
                    f"{gal:g} gal{hose_text} were sprayed, and the compartments with "
                    f"{step.mix_id} held {held:.1f} gal",
                )
            )
        # First the hose, as the pump does; only what reaches the lawn is the order's.
        self.levels, _ = draw(self.levels, step.mix_id, hose)
        self.levels, taken = draw(self.levels, step.mix_id, gal - caught)
        # Below nothing there is nothing: one finding is enough, and the next step starts afresh.
        self.levels = tuple(replace(level, gal=max(0.0, level.gal)) for level in self.levels)
        self.draws[step.subject] = tuple(
            (name, gallons, self.last_fill[name]) for name, gallons in taken
        )
        if caught:
            self.draws[step.subject] += ((CONTAINER, caught, ""),)
        products = {one for name, _ in taken for one in self.strength[name]} if gal > 0 else ()
        self.sprayed[step.subject] = {
            one: (caught + sum(part * self.strength[name].get(one, 1.0) for name, part in taken))
            / (caught + sum(part for _, part in taken))
            for one in products
        }

    def _catch(self, line_id: str) -> None:
        held = self.hose_mix.get(line_id)
        if held is not None and self.truck.containers is not None:
            self.containers.catch(held, self.truck.hose_gal.get(line_id, 0.0), line_id)

    def measure(self, step: Step, gal: float) -> None:
        name = step.compartment_id
        level = self.by_name()[name]
        be = "be left" if step.what == LEFT else "be, before the fill,"
        # Small differences of each stop add up over a day.
        if gal > level.capacity_gal or abs(gal - level.gal) > 5 * self.tanks[name].slack_gal:
            self.findings.append(
                Finding(
                    step.subject,
                    "REC-13",
                    f"{gal:g} gal are said to {be} in compartment {name} of "
                    f"{level.capacity_gal:g} gal, the day's figures leave {level.gal:.1f} gal",
                )
            )
        self._set(name, gal)

    def _set(self, name: str, gal: float) -> None:
        self.levels = tuple(
            replace(level, gal=gal) if level.compartment_id == name else level
            for level in self.levels
        )
