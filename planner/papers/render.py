"""Templates to HTML; the only module that imports jinja2.

Every value is escaped by the template engine, so that a customer's text shows as text.
"""

import re
from collections.abc import Mapping
from functools import cache
from html import unescape

from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined

from planner.day.clock import clock_text
from planner.day.places import tel, ways
from planner.papers.direction import plain_direction

_PLAIN = re.compile(r"[A-Za-z0-9]")


def _plain(value: object) -> object:
    """Texts lose signs that would turn around the figures after them; the rest is as it was."""
    if type(value) is str:
        return plain_direction(value)
    return value


@cache
def _environment(room: str) -> Environment:
    environment = Environment(
        loader=ChoiceLoader([PackageLoader(name) for name in (room, "planner.papers")]),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_plain,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(
        clock=clock_text,
        gal=gal_text,
        whole=whole_text,
        money=money_text,
        duration=duration_text,
        css_text=css_text,
        tel=tel,
        ways=ways,
    )
    return environment


def render(template: str, **values: object) -> str:
    """The page of that template (a file name in templates/) filled with the values."""
    return render_in("planner.papers", template, values)


def render_in(room: str, template: str, values: Mapping[str, object]) -> str:
    """The same with a template of another room, in its templates/."""
    return _environment(room).get_template(template).render(values)


def gal_text(gal: float) -> str:
    """Gallons to a tenth, without a needless .0 and without a negative zero: `187`, `12.4`."""
    text = f"{abs(gal) if abs(gal) < 0.05 else gal:,.1f}"
    return text.removesuffix(".0")


def whole_text(value: float) -> str:
    """A count, area or weight to the nearest whole number: `12,400`."""
    return f"{value:,.0f}"


def money_text(value: float) -> str:
    """Money with cents; the currency sign is the template's business."""
    return f"{value:,.2f}"


def duration_text(minutes: float) -> str:
    """Minutes as hours and minutes: `7 h 05 min`, `12 min`."""
    hours, rest = divmod(int(minutes + 0.5), 60)
    return f"{hours} h {rest:02d} min" if hours else f"{rest} min"


def css_text(text: str) -> str:
    """The text for a quoted string in a style sheet: HTML's escapes do not work there, so every
    sign other than plain letters and digits is written by its number."""
    plain = unescape(str(text)).strip()
    return "".join(sign if _PLAIN.fullmatch(sign) else f"\\{ord(sign):06x}" for sign in plain)
