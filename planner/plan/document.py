"""plan.json: the plan as text, and back. The documented contract is `planner.plan.model`."""

import functools
import json
import math
import types
import typing
from dataclasses import Field, fields, is_dataclass
from typing import Any

from planner.plain_files import read_json
from planner.plan.model import PLAN_VERSION, Plan
from planner.problems import PlannerError

DECIMALS = 6
"""Finer than any tolerance of the audit, coarse enough to hide float noise."""


class PlanFileError(PlannerError):
    """A plan.json that cannot be read. The message names the place and what was expected."""


def to_json(plan: Plan) -> str:
    """The plan as JSON text: sorted as the model is, numbers rounded to DECIMALS."""
    return json.dumps(plain(plan), indent=1, ensure_ascii=False) + "\n"


def from_json(text: str) -> Plan:
    """The plan in a JSON text. Raises PlanFileError naming the first place that does not fit."""
    try:
        raw = read_json(text)
    except ValueError as error:
        cure = "name the plan.json in the folder that `planner plan` wrote"
        what = "it is not JSON" if isinstance(error, json.JSONDecodeError) else "it cannot be read"
        raise PlanFileError(f"no plan, as {what}: {error}; {cure}") from None
    if isinstance(raw, dict) and raw.get("version") == 1:
        raw = _from_version_1(raw)
    if isinstance(raw, dict) and raw.get("version") == 2:
        raw = _from_version_2(raw)
    if not isinstance(raw, dict) or raw.get("version") != PLAN_VERSION:
        found = raw.get("version") if isinstance(raw, dict) else type(raw).__name__
        raise PlanFileError(f"plan version {PLAN_VERSION} expected, found {found!r}")
    plan = read_value(Plan, raw, "plan")
    assert isinstance(plan, Plan)
    return plan


def _from_version_1(raw: dict[str, Any]) -> dict[str, Any]:
    """A plan without start_gal: what the day began with follows from how it ended."""
    try:
        trucks = [truck | {"start_gal": _began_with(truck)} for truck in raw["trucks"]]
    except (KeyError, TypeError, AttributeError):
        # Broken in another way, which the reading names.
        return raw | {"version": 2}
    return raw | {"version": 2, "trucks": trucks}


def _from_version_2(raw: dict[str, Any]) -> dict[str, Any]:
    """A plan whose fills say only what the recipe asks for: that is what is measured."""
    try:
        for truck in raw["trucks"]:
            for stop in truck["stops"]:
                for fill in stop["fills"]:
                    fill["metered_water_gal"] = math.ceil(10 * fill["water_gal"] - 1e-6) / 10
                    fill["measured"] = fill["products"]
    except (KeyError, TypeError, AttributeError):
        # Broken in another way, which the reading names.
        pass
    return raw | {"version": PLAN_VERSION}


def _began_with(truck: dict[str, Any]) -> dict[str, float]:
    gal = dict(truck["end_gal"])
    for stop in truck["stops"]:
        for fill in stop["fills"]:
            gal[fill["compartment_id"]] -= fill["gal"]
        for work in stop["orders"]:
            for draw in (*work["compartments"], *work["hose_compartments"]):
                gal[draw["compartment_id"]] += draw["gal"]
    return {name: max(0.0, round(level, DECIMALS)) for name, level in gal.items()}


def plain(value: Any) -> Any:
    """A value of the plan as lists, dicts and rounded numbers."""
    if is_dataclass(value) and not isinstance(value, type):
        # A sum over nothing is the int 0: written as the float that its field is, or the text
        # would differ from that of the same plan read back.
        floats = _float_fields(type(value))
        return {
            field.name: plain(
                float(getattr(value, field.name))
                if field.name in floats
                else getattr(value, field.name)
            )
            for field in fields(value)
            if not _at_rest(field, getattr(value, field.name))
        }
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items()}
    if isinstance(value, tuple):
        return [plain(item) for item in value]
    if isinstance(value, float):
        # + 0.0 turns -0.0 into 0.0, which would differ between equal plans.
        return round(value, DECIMALS) + 0.0
    return value


def _at_rest(field: Field[Any], value: object) -> bool:
    return "rare" in field.metadata and bool(value in (field.default, {}))


@functools.cache
def _hints(kind: type) -> dict[str, Any]:
    return typing.get_type_hints(kind)


@functools.cache
def _float_fields(kind: type) -> frozenset[str]:
    return frozenset(name for name, hint in _hints(kind).items() if hint is float)


def read_value(kind: Any, raw: Any, place: str) -> Any:
    """The value of that type (a dataclass, or what its fields may be) in what plain() made. place:
    for messages. Raises PlanFileError naming the first place that does not fit."""
    origin, arguments = typing.get_origin(kind), typing.get_args(kind)
    if is_dataclass(kind):
        return _record(kind, raw, place)
    if origin is tuple:
        if not isinstance(raw, list):
            raise PlanFileError(f"{place}: a list expected, found {raw!r:.60}")
        return tuple(read_value(arguments[0], item, f"{place}[{i}]") for i, item in enumerate(raw))
    if origin is dict:
        if not isinstance(raw, dict):
            raise PlanFileError(f"{place}: an object expected, found {raw!r:.60}")
        return {key: read_value(arguments[1], item, f"{place}.{key}") for key, item in raw.items()}
    if origin in (types.UnionType, typing.Union):
        if raw is None:
            return None
        kind = next(argument for argument in arguments if argument is not type(None))
        return read_value(kind, raw, place)
    if kind is float and isinstance(raw, int) and not isinstance(raw, bool):
        return float(raw)
    if not isinstance(raw, kind) or (isinstance(raw, bool) and kind is not bool):
        raise PlanFileError(f"{place}: {kind.__name__} expected, found {raw!r:.60}")
    return raw


def _record(kind: Any, raw: Any, place: str) -> Any:
    if not isinstance(raw, dict):
        raise PlanFileError(f"{place}: an object expected, found {raw!r:.60}")
    hints = _hints(kind)
    unknown = sorted(raw.keys() - hints.keys())
    rare = {field.name for field in fields(kind) if "rare" in field.metadata}
    missing = sorted(hints.keys() - raw.keys() - rare)
    if unknown or missing:
        raise PlanFileError(
            f"{place}: fields missing: {', '.join(missing) or 'none'}; "
            f"unknown: {', '.join(unknown) or 'none'}"
        )
    return kind(
        **{
            name: read_value(hint, raw[name], f"{place}.{name}")
            for name, hint in hints.items()
            if name in raw
        }
    )
