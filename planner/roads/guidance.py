"""What a driver has to be told on a way, from its departure to its arrival.

Roundabouts, ramps, channels for turning and the pieces between the carriageways of divided roads
are one maneuver each, however many junctions they are drawn with.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from planner.roads.choices import (
    CORNER_DEG,
    STRAIGHT_DEG,
    U_TURN_DEG,
    Piece,
    arrival_side,
    decide,
    is_highway,
    is_link,
    is_motorway,
    shares_name,
)
from planner.roads.graph import Exit, Junctions, change
from planner.roads.sphere import FT_PER_MILE
from planner.roads.tags import RoadLabel
from planner.roads.travel import Maneuver, road_text, sentence

CHANNEL_FT: Final = 700.0
"""A link between two streets up to this long is a turn; a longer one is a ramp."""

BRANCH_FT: Final = 300.0
"""A ramp that parts into its left and right turn this near to the street is told as the turn."""

INNER_FT: Final = 110.0
"""Carriageways of a divided road lie nearer together than this."""

INNER_DEG: Final = 15.0
WINDS: Final = (
    "north",
    "northeast",
    "east",
    "southeast",
    "south",
    "southwest",
    "west",
    "northwest",
)


def maneuvers(
    junctions: Junctions, pieces: Sequence[Piece], place: tuple[float, float]
) -> tuple[Maneuver, ...]:
    """All that is told on a way, the departure and the arrival included. place: (lat, lon) of the
    point beside the road where it ends."""
    told = _Directions(junctions, pieces)
    told.depart()
    row = 1
    while row < len(pieces):
        row = told.next(row)
    told.arrive(place)
    return told.with_miles()


class _Directions:
    """Maneuvers in the making, each with the row of the piece that it leads onto."""

    def __init__(self, junctions: Junctions, pieces: Sequence[Piece]) -> None:
        self._junctions, self._pieces = junctions, pieces
        self._rows: list[int] = []
        self._made: list[Maneuver] = []

    def with_miles(self) -> tuple[Maneuver, ...]:
        """The maneuvers with the miles after each."""
        ends = [*self._rows[1:], len(self._pieces)]
        return tuple(
            replace(one, miles=sum(p.length_ft for p in self._pieces[begin:end]) / FT_PER_MILE)
            for one, begin, end in zip(self._made, self._rows, ends, strict=True)
        )

    def depart(self) -> None:
        """The direction of the first street."""
        piece = self._pieces[0]
        street, shield = _road(piece.label)
        wind = WINDS[round(piece.begin / 45.0) % 8]
        text = sentence("depart", wind, road_text(street, shield), "", "")
        self._rows.append(0)
        self._made.append(Maneuver("depart", text, 0.0, street, shield, "", "", "", *piece.at))

    def arrive(self, place: tuple[float, float]) -> None:
        """The arrival, with the side of the street if the place lies beside it."""
        last = self._pieces[-1]
        side = arrival_side(last, place)
        self._rows.append(len(self._pieces))
        lat, lon = last.points[-1]
        text = sentence("arrive", side, "", "", "")
        self._made.append(Maneuver("arrive", text, 0.0, side=side, lat=lat, lon=lon))

    def tell(
        self,
        row: int,
        kind: str,
        side: str,
        *,
        onto: int | None = None,
        exit_number: str = "",
        toward: str = "",
    ) -> None:
        """One maneuver at the begin of a piece. onto: the piece whose street is named."""
        street, shield = _road(self._pieces[row if onto is None else onto].label)
        text = sentence(kind, side, road_text(street, shield), exit_number, toward)
        at = self._pieces[row].at
        self._rows.append(row)
        self._made.append(Maneuver(kind, text, 0.0, street, shield, side, exit_number, toward, *at))

    def next(self, row: int) -> int:
        """Tell what has to be told at the begin of a piece; the next row to look at."""
        before, after = self._pieces[row - 1], self._pieces[row]
        if after.roundabout or before.roundabout:
            return self._roundabout(row)
        if after.edge == before.edge ^ 1 and not after.inside:
            self.tell(row, "u-turn", "")
            return row + 1
        if is_link(after):
            return self._link(row)
        inner = self._inner(row)
        if inner is not None:
            return inner
        self._plain(row, row, before, after, self._others(row))
        return row + 1

    def _others(self, row: int) -> list[Exit]:
        """Roads that leave the junction before a piece, but for it and the way back."""
        before, after = self._pieces[row - 1], self._pieces[row]
        if after.inside:
            return []
        taken = {before.edge ^ 1, after.edge}
        return [
            one
            for one in self._junctions.exits(self._junctions.tail(after.edge))
            if one.edge not in taken
        ]

    def _roundabout(self, row: int) -> int:
        end, count = row, 0
        while end < len(self._pieces) and self._pieces[end].roundabout:
            count += self._exits_passed(end)
            end += 1
        arrives = end == len(self._pieces)
        entered = self._pieces[row].roundabout
        number = str(max(count, 1)) if entered and not arrives else ""
        self.tell(
            row,
            "roundabout",
            "",
            onto=min(end, len(self._pieces) - 1),
            exit_number=number,
            toward="" if arrives else _toward(self._pieces[end].label),
        )
        return end + 1 if entered else row + 1

    def _exits_passed(self, row: int) -> int:
        """Exits of a roundabout at the end of one of its pieces, up to the one that is taken."""
        piece = self._pieces[row]
        after = self._pieces[row + 1] if row + 1 < len(self._pieces) else None
        if after is not None and after.inside:
            return 0
        exits = self._junctions.exits(self._junctions.head(piece.edge))
        leaving = [one for one in exits if not one.roundabout]
        if after is None or after.roundabout:
            return len(leaving)
        turn = change(piece.end, after.begin)
        return sum(
            one.edge == after.edge or change(piece.end, one.bearing) > turn for one in leaving
        )

    def _link(self, row: int) -> int:
        """Onto a link between roads: a channel for turning, a ramp, or one of its branches."""
        before, after = self._pieces[row - 1 : row + 1]
        end = next((n for n in range(row, len(self._pieces)) if not is_link(self._pieces[n])), None)
        others = self._others(row)
        angle = change(before.end, after.begin)
        links = [one for one in others if one.label.road_class.endswith("_link")]
        branches = [one for one in links if abs(change(before.end, one.bearing)) < CORNER_DEG]
        if is_link(before) and not branches:
            self._plain(row, row, before, after, others)
            return row + 1
        street = self._pieces[end] if end is not None else None
        run = self._pieces[row:end]
        length_ft = sum(piece.length_ft for piece in run)
        limit_ft = BRANCH_FT if is_link(before) else CHANNEL_FT
        number = self._junctions.exit_number(after.edge) or after.label.exit
        leaves = is_highway(before) and abs(angle) < STRAIGHT_DEG
        own_name = after.label.shown and not shares_name(before.label, after.label)
        if (
            street is not None
            and not number
            and (own_name or not leaves)
            and length_ft <= limit_ft
            and _one_bend(before, run, street)
            and abs(angle) < CORNER_DEG
            and not is_motorway(street)
            and (is_link(before) or not any(is_motorway(piece) for piece in (before, *run)))
        ):
            self._plain(row, end or row, before, street, others)
            return (end or row) + 1
        toward = next((text for text in (_toward(p.label) for p in run) if text), "")
        onto = end if end is not None else len(self._pieces) - 1
        side = self._side_of(row, angle)
        if is_link(before) or (is_highway(before) and branches and len(others) == len(branches)):
            self.tell(row, "keep", side, onto=onto, toward=toward)
        elif is_highway(before):
            self.tell(row, "exit", side, onto=onto, exit_number=number, toward=toward)
        else:
            self.tell(row, "ramp", side, onto=onto, toward=toward)
        return row + 1

    def _side_of(self, row: int, angle: float) -> str:
        before = self._pieces[row - 1]
        others = [change(before.end, one.bearing) for one in self._others(row)]
        ahead = min(others, key=abs, default=0.0)
        if abs(ahead) < CORNER_DEG and abs(angle) < CORNER_DEG:
            return "left" if angle < ahead else "right"
        return "left" if angle < 0 else "right"

    def _inner(self, row: int) -> int | None:
        """Two turns over the piece between the carriageways of a divided road, as one."""
        if row + 1 >= len(self._pieces):
            return None
        before, piece, after = self._pieces[row - 1 : row + 2]
        if piece.length_ft > INNER_FT or piece.inside or after.inside or after.roundabout:
            return None
        if after.edge == piece.edge ^ 1 or not (self._divided(row) and self._divided(row + 1)):
            return None
        first, second = change(before.end, piece.begin), change(piece.end, after.begin)
        if abs(first) < INNER_DEG or abs(second) < INNER_DEG:
            return None
        if first * second > 0 and abs(first + second) > U_TURN_DEG:
            if not shares_name(before.label, after.label):
                return None
            self.tell(row, "u-turn", "left" if first < 0 else "right", onto=row + 1)
            return row + 2
        if max(abs(first), abs(second)) > CORNER_DEG or is_link(after):
            return None
        if not shares_name(before.label, after.label):
            return None
        others = [
            one for one in (*self._others(row), *self._others(row + 1)) if one.edge != piece.edge
        ]
        self._plain(row, row + 1, before, after, others)
        return row + 2

    def _divided(self, row: int) -> bool:
        """Whether a one-way road passes the junction before a piece."""
        roads = self._junctions.roads(self._junctions.tail(self._pieces[row].edge))
        return any(
            self._junctions.is_open(edge) != self._junctions.is_open(edge ^ 1) for edge in roads
        )

    def _plain(self, row: int, onto: int, before: Piece, after: Piece, others: list[Exit]) -> None:
        """Told at the begin of the piece `row` if at all. after: the road that is taken, `onto`."""
        angle = change(before.end, after.begin)
        ramp = is_link(before) and (is_highway(after) or (is_motorway(before) and not others))
        if ramp and abs(angle) < CORNER_DEG:
            return  # Joining the traffic is what a ramp is for.
        passed = len(self._junctions.roads(self._junctions.tail(self._pieces[row].edge))) > 2
        decision = decide(angle, before, after, others, passed and not self._pieces[row].inside)
        if decision is not None:
            kind, side = decision
            self.tell(row, kind, side, onto=onto, toward=_toward(self._pieces[row].label))


def _one_bend(before: Piece, run: Sequence[Piece], street: Piece) -> bool:
    """Whether a channel turns to one side only."""
    whole, end = change(before.end, street.begin), change(run[-1].end, street.begin)
    return abs(end) < STRAIGHT_DEG or end * whole > 0


def _road(label: RoadLabel) -> tuple[str, str]:
    return label.name, ", ".join(ref.strip() for ref in label.refs.split(";") if ref.strip())


def _toward(label: RoadLabel) -> str:
    return ", ".join(text.strip() for text in label.toward.split(";") if text.strip())
