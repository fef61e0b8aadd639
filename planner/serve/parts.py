"""Which pieces of the page are other than in the revision that a browser has."""

from __future__ import annotations

import re
from collections import OrderedDict
from collections.abc import Collection, Hashable
from typing import Any, Final

from planner import pages
from planner.office.day import DayState
from planner.pages import Part

KEPT: Final = 500
"""Revisions of which is known what their pieces were; to an older page all are sent."""

ROW: Final = re.compile(r'<(article|tr)\b[^>]*? data-key="([^"]*)".*?</\1>', re.DOTALL)
HEAD: Final = re.compile(r"<thead>.*?</thead>", re.DOTALL)

Keys = dict[str, Hashable]


class Pieces:
    """The pieces of each revision, by their keys."""

    def __init__(self) -> None:
        self._known: OrderedDict[int, tuple[Keys, Keys]] = OrderedDict()

    def answer(
        self, state: DayState, since: int | None, have: Collection[str] | None, say: str
    ) -> dict[str, Any]:
        """The answer for a page that shows revision `since` (None = nothing) and has the elements
        `have` (None = all). since: the revision against which it is told, None = it is whole; what
        a row with data-same names stays as that page has it."""
        parts, drawn = pages.day_parts(state), pages.day_map(state)
        base = since if since in self._known else None
        old_parts, old_drawn = ({}, {}) if base is None else self._known[base]
        self._known[state.revision] = (_keys(parts), _keys(drawn))
        self._known.move_to_end(state.revision)
        while len(self._known) > KEPT:
            self._known.popitem(last=False)
        asked = {name: part for name, part in parts.items() if have is None or name in have}
        gone = [name for name in old_parts if name not in parts]
        return {
            "revision": state.revision,
            "since": base,
            "parts": _other(asked, old_parts) | dict.fromkeys(gone, ""),
            "map": _other(drawn, old_drawn),
            "say": say,
        }

    def note(self, state: DayState) -> None:
        """A page was made whole in this revision."""
        self._known.setdefault(
            state.revision, (_keys(pages.day_parts(state)), _keys(pages.day_map(state)))
        )


def _keys(parts: dict[str, Part]) -> Keys:
    return {name: part.key for name, part in parts.items()}


def _other(parts: dict[str, Part], old: Keys) -> dict[str, Any]:
    return {
        name: _without_same_rows(part.make(), old.get(name))
        for name, part in parts.items()
        if name not in old or old[name] != part.key
    }


def _without_same_rows(made: Any, old: Hashable) -> Any:
    """A piece whose rows that are as they were are named and not sent. The browser paints cells by
    the head of their table: under another head every row is another."""
    if not isinstance(made, str) or not isinstance(old, str):
        return made
    if HEAD.findall(made) != HEAD.findall(old):
        return made
    had = {row[0] for row in ROW.finditer(old)}
    return ROW.sub(
        lambda row: f'<{row[1]} data-same="{row[2]}"></{row[1]}>' if row[0] in had else row[0], made
    )
