"""Which pieces of the page are other than in the revision that a browser has."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Collection, Hashable
from typing import Any, Final

from planner import pages
from planner.office.day import DayState
from planner.pages import Part

KEPT: Final = 500
"""Revisions of which is known what their pieces were; to an older page all are sent."""

Keys = dict[str, Hashable]


class Pieces:
    """The pieces of each revision, by their keys."""

    def __init__(self) -> None:
        self._known: OrderedDict[int, tuple[Keys, Keys]] = OrderedDict()

    def answer(
        self, state: DayState, since: int | None, have: Collection[str] | None, say: str
    ) -> dict[str, Any]:
        """The answer for a page that shows revision `since` (None = nothing) and has the elements
        `have` (None = all)."""
        parts, drawn = pages.day_parts(state), pages.day_map(state)
        old_parts, old_drawn = self._known.get(-1 if since is None else since, ({}, {}))
        self._known[state.revision] = (_keys(parts), _keys(drawn))
        self._known.move_to_end(state.revision)
        while len(self._known) > KEPT:
            self._known.popitem(last=False)
        asked = {name: part for name, part in parts.items() if have is None or name in have}
        gone = [name for name in old_parts if name not in parts]
        return {
            "revision": state.revision,
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
        name: part.make()
        for name, part in parts.items()
        if name not in old or old[name] != part.key
    }
