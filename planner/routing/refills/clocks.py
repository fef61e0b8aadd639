"""Clocks of the refill model as variables, in ticks: a truck at a refill, a fill in a queue."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass
class FillClock:
    """A fill of a truck at a site with few places, if it takes place. loads: in the morning, in a
    turn that is chosen (rule 38), else in that of `arrive`; ready: arrived, and the site open;
    first, last: ticks between which it takes place."""

    row: int
    name: str
    loads: bool
    here: Any
    arrive: Any
    ready: Any
    begin: Any
    leave: Any
    lasts: Any
    first: int
    last: int


@dataclass
class Clock:
    """Of one refill of a truck: variables in ticks, and their bounds."""

    arrive: Any
    leave: Any
    first: int
    last: int
