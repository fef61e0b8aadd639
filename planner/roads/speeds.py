"""Speeds, penalties and classes of roads: every number of the drive times, with its reason.

The drive times are those of a dry weekday outside the rush hours. What a town drives differently
goes into the setting road_time_factor, which multiplies all of them.
"""

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True)
class RoadClass:
    """One value of the highway tag that a motor vehicle may drive.

    rank: 0 = the largest road. mph: driven where no limit is posted. share_of_limit: of a posted
    limit that is really driven. may_stop: a place may lie on it (nobody parks on a motorway).
    through: it may shorten a trip; otherwise it only begins or ends one.
    """

    rank: int
    mph: float
    share_of_limit: float
    may_stop: bool = True
    through: bool = True


CLASSES: Final[dict[str, RoadClass]] = {
    "motorway": RoadClass(0, 63.0, 1.00, may_stop=False),
    "motorway_link": RoadClass(1, 46.0, 0.90, may_stop=False),
    "trunk": RoadClass(1, 52.0, 0.98),
    "trunk_link": RoadClass(2, 36.0, 0.90, may_stop=False),
    "primary": RoadClass(2, 42.0, 0.99),
    "primary_link": RoadClass(3, 30.0, 0.90),
    "secondary": RoadClass(3, 38.0, 0.99),
    "secondary_link": RoadClass(4, 28.0, 0.90),
    "tertiary": RoadClass(4, 30.0, 0.96),
    "tertiary_link": RoadClass(5, 25.0, 0.90),
    "unclassified": RoadClass(5, 28.0, 0.95),
    "residential": RoadClass(6, 20.0, 0.88),
    "living_street": RoadClass(7, 9.0, 0.80),
    "road": RoadClass(7, 18.0, 0.80),
    "service": RoadClass(8, 13.0, 0.85),
    "track": RoadClass(9, 8.0, 0.60, through=False),
}
"""Common practice, no single source, then fitted once (November 2026) so that the median time of
an independent public routing engine for cars off-peak lies within a tenth on each of four real
extracts (tests/bench/bench_roads.py says how they compare now): unposted speeds near the usual US
limits of each class (65 motorway, 45 to 55 trunk, 40 to 45 primary, 35 to 40 secondary, 30
tertiary, 25 residential). The large roads are driven at what is posted; the share of it falls with
the class, because on small streets bends, parked cars and driveways slow a loaded spray truck
more than a car."""

SERVICE_MPH: Final[dict[str, float]] = {"alley": 10.0, "driveway": 7.0, "parking_aisle": 8.0}
"""Walking people and reversing cars set the pace, not the road. Common practice, no source."""

SERVICE_ENDS_ONLY: Final = frozenset({"driveway", "parking_aisle", "drive-through"})
"""Service roads that begin or end a trip but are never a short cut."""

SERVICE_CLOSED: Final = frozenset({"emergency_access", "bus", "slipway"})
"""Service roads that a spray truck has no business on."""

LEAST_MPH: Final = 3.0
MOST_MPH: Final = 85.0
"""A posted limit outside of this span is a slip of the mapper (85 mph is the highest in the US)
and is not used."""

SIGNAL_S: Final = 4.0
"""Traffic signal, the mean over green and red. 10 s is the border of levels of service A and B for
control delay in the Highway Capacity Manual (quoted from memory); the independent engine's times
on streets full of signals fit about 2 s. Off-peak lies between."""

SIGNAL_GROUP_FT: Final = 130.0
"""Signals this close after another one belong to the same junction (the two carriageways of a
divided road) and turn green together; they are paid for once."""

STOP_S: Final = 5.0
"""Stop sign: braking from and returning to 25 mph at 4 ft/s2 takes 18 s, in which driving on would
have covered half of the way: 9 s lost, less for the many that are only nearly obeyed and for
turns, which are slow already. Worked from common practice, no source."""

GIVE_WAY_S: Final = 2.0
"""Yield sign: half a slow-down on average. Common practice, no source."""

UNMAPPED_STOP_S: Final = 4.0
UNMAPPED_STOP_RANK_STEP: Final = 2
"""Who comes from a road smaller by two ranks onto or across a larger one waits there even where
no sign is drawn: few US stop signs are in OpenStreetMap. Common practice, no source."""

APPROACH_FT: Final = 200.0
"""A signal or sign drawn on a street within this distance before a junction stands for traffic
towards that junction only; farther from any junction it stands for both directions."""

LEFT_TURN_S: Final = 5.0
"""Left turn across the oncoming traffic: slowing, and waiting for a gap. Routing engines use 5 to
10 s. Common practice, no source; fitted with the speeds."""

RIGHT_TURN_S: Final = 4.0
"""Right turn: slowing for the bend. Common practice, no source; fitted with the speeds."""

U_TURN_S: Final = 25.0
"""Turning a truck round where a street ends. Common practice, no source."""

TURN_DEG: Final = 40.0
"""A change of direction of at least this much is a left or right turn; less is straight on."""

TRUCK_SIGN_LB: Final = 10_000.0
"""'No trucks' signs (hgv=no) are read for vehicles heavier than this: 49 CFR 390.5 counts a
vehicle of 10,001 lb and more as a commercial motor vehicle (https://www.ecfr.gov). They keep
through traffic out; a truck with work on the street may go in, as the usual US truck ordinance
says, so they make a street ends-only and do not close it."""

MOST_SNAP_FT: Final = 20_000.0
"""A place farther than this from any road lies outside the extract: no time can be given."""
