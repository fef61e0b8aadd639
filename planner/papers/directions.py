"""The way to a stop in a line of the route sheet: the turns that matter."""

from collections.abc import Sequence

from planner.roads.travel import FEET_BELOW_MILES, Maneuver, ordinal

TURNS_SHOWN = 3
"""More would not be read at the wheel. The last two are the ones that nobody knows by heart."""

LAST_SHOWN = 2


def way_text(maneuvers: Sequence[Maneuver]) -> str:
    """'left Oak Street 0.4 mi › right Elm Street; on the right'. A long way keeps its last turns
    and the one before its longest stretch. Miles stand where they are a tenth or more, route
    numbers where the road has no name; '' where no road is known."""
    if not maneuvers:
        return ""
    first, turns, last = maneuvers[0], maneuvers[1:-1], maneuvers[-1]
    kept = set(range(len(turns))[-LAST_SHOWN:])
    for row in sorted(range(len(turns)), key=lambda row: -turns[row].miles):
        if len(kept) < TURNS_SHOWN:
            kept.add(row)
    parts: list[str] = []
    for row, one in enumerate(turns):
        if row in kept:
            far = one.miles >= FEET_BELOW_MILES
            parts.append(f"{_brief(one)} {one.distance}" if far else _brief(one))
        elif not parts or parts[-1] != "…":
            parts.append("…")
    way = " › ".join(parts) or (f"on {first.street or first.shield}" if first.road else "")
    side = f"on the {last.side}" if last.side else ""
    return "; ".join(filter(None, (way, side)))


def _brief(one: Maneuver) -> str:
    """A maneuver in as few words as it takes."""
    road = one.street or one.shield
    onto = f" {road}" if road else ""
    to = f" to {one.toward or road}" if one.toward or road else ""
    if one.kind == "turn":
        return one.side + onto
    if one.kind == "keep":
        return f"keep {one.side}" + (onto or to)
    if one.kind == "roundabout":
        number = f"{ordinal(int(one.exit))} exit" if one.exit else ""
        return f"roundabout {number}".strip() + onto
    if one.kind in ("exit", "ramp"):
        return f"{one.kind} {one.exit or one.side}".strip() + to
    return {"u-turn": "U-turn", "straight": "straight"}[one.kind] + onto
