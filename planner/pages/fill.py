"""Templates of this room filled with values."""

from __future__ import annotations

from planner.papers.render import render_in


def fill(template: str, **values: object) -> str:
    """The HTML of a template (a file name in templates/); every value is escaped."""
    return render_in("planner.pages", template, values)


class Ready(str):
    """A text that is HTML already."""

    def __html__(self) -> str:
        return self
