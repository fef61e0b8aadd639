"""Speeds, penalties and classes of roads: every number of the drive times, with its reason.

The drive times are those of a dry weekday outside the rush hours. What a town drives differently
goes into the setting road_time_factor, which multiplies all of them.
"""

from __future__ import annotations

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
    "motorway": RoadClass(0, 62.0, 0.97, may_stop=False),
    "motorway_link": RoadClass(1, 38.0, 0.80, may_stop=False),
    "trunk": RoadClass(1, 50.0, 0.95),
    "trunk_link": RoadClass(2, 32.0, 0.80, may_stop=False),
    "primary": RoadClass(2, 38.0, 0.92),
    "primary_link": RoadClass(3, 25.0, 0.80),
    "secondary": RoadClass(3, 35.0, 0.92),
    "secondary_link": RoadClass(4, 24.0, 0.80),
    "tertiary": RoadClass(4, 30.0, 0.90),
    "tertiary_link": RoadClass(5, 22.0, 0.80),
    "unclassified": RoadClass(5, 26.0, 0.88),
    "residential": RoadClass(6, 21.0, 0.84),
    "living_street": RoadClass(7, 9.0, 0.80),
    "road": RoadClass(7, 18.0, 0.80),
    "service": RoadClass(8, 10.0, 0.70),
    "track": RoadClass(9, 8.0, 0.60, through=False),
}
"""Common practice, no single source: unposted speeds are a little under the usual US limits of
each class (65 motorway, 45 to 55 trunk, 40 primary, 35 secondary and tertiary, 25 residential),
because a loaded spray truck brakes and pulls away gently; the share of a posted limit falls with
the class because bends, parked cars and driveways slow the small streets more."""

SERVICE_MPH: Final[dict[str, float]] = {"alley": 10.0, "driveway": 7.0, "parking_aisle": 6.0}
"""Walking people and reversing cars set the pace, not the road. Common practice, no source."""

SERVICE_ENDS_ONLY: Final = frozenset({"driveway", "parking_aisle", "drive-through"})
"""Service roads that begin or end a trip but are never a short cut."""

SERVICE_CLOSED: Final = frozenset({"emergency_access", "bus", "slipway"})
"""Service roads that a spray truck has no business on."""

LEAST_MPH: Final = 3.0
MOST_MPH: Final = 85.0
"""A posted limit outside of this span is a slip of the mapper (85 mph is the highest in the US)
and is not used."""

SIGNAL_S: Final = 10.0
"""Traffic signal: 10 s is the border of levels of service A and B for control delay at signals in
the Highway Capacity Manual (quoted from memory), a signal that is kind to traffic off-peak."""

SIGNAL_GROUP_FT: Final = 130.0
"""Signals this close after another one belong to the same junction (the two carriageways of a
divided road) and turn green together; they are paid for once."""

STOP_S: Final = 6.0
"""Stop sign: braking from and returning to 25 mph at 4 ft/s2 loses about 9 s less the rolling
time, and a look each way. Worked from common practice, no source."""

GIVE_WAY_S: Final = 2.0
"""Yield sign: half a slow-down on average. Common practice, no source."""

UNMAPPED_STOP_S: Final = 4.0
UNMAPPED_STOP_RANK_STEP: Final = 2
"""Who comes from a road smaller by two ranks onto or across a larger one waits there even where
no sign is drawn: few US stop signs are in OpenStreetMap. Common practice, no source."""

APPROACH_FT: Final = 200.0
"""A signal or sign drawn on a street within this distance before a junction stands for traffic
towards that junction only; farther from any junction it stands for both directions."""

LEFT_TURN_S: Final = 7.0
"""Left turn across the oncoming traffic: slowing, and waiting for a gap. Routing engines use 5 to
10 s. Common practice, no source."""

RIGHT_TURN_S: Final = 3.0
"""Right turn: slowing for the bend. Common practice, no source."""

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
