"""Which rounds degree days have opened, in lines for the office."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator
from datetime import date
from typing import Final

from planner.day.day import Workbook
from planner.rounds.standing import RoundState, round_standings
from planner.rounds.windows import RoundWindows

_TOLD: Final = (RoundState.DUE, RoundState.BEHIND, RoundState.LATER, RoundState.LOST)


def heat_lines(
    book: Workbook, program_id: str, homes: Collection[str], when: date
) -> tuple[str, ...]:
    """Degree days of a program's rounds so far, once for each area of the properties; () when none
    of its rounds counts them."""
    windows = RoundWindows(book.temperatures, when)
    return tuple(
        dict.fromkeys(
            windows.heat_text(one, book.properties[name].weather_area, when.year)
            for one in book.programs.values()
            if one.program_id == program_id
            and (one.degree_days_from is not None or one.degree_days_to is not None)
            for name in sorted(homes)
        )
    )


def rounds_due(book: Workbook, done: Collection[str], when: date) -> Iterator[str]:
    """A line for each program whose rounds count degree days: how many properties each round is
    due at, behind, later or lost, and the degree days. done: orders that the records have."""
    homes: dict[str, set[str]] = {}
    for having in book.property_programs:
        homes.setdefault(having.program_id, set()).add(having.property_id)
    heat = {name: heat_lines(book, name, at, when) for name, at in homes.items()}
    standings = round_standings(book, book, done, when) if any(heat.values()) else ()
    for program_id, lines in heat.items():
        if not lines:
            continue
        found: dict[str, Counter[RoundState]] = {}
        for one in standings:
            if one.program_id == program_id and one.state in _TOLD:
                label = f"round {one.number} {one.name}".rstrip()
                found.setdefault(label, Counter())[one.state] += 1
        said = [
            f"{label}: " + ", ".join(f"{n} {state.value}" for state, n in sorted(states.items()))
            for label, states in found.items()
        ]
        yield f"{program_id}, {'; '.join(said) or 'no round is open'}. {'; '.join(lines)}."
