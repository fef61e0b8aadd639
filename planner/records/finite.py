"""Figures of a record that are no number: where they are, and a body without them.

Planners before this check took `nan` for a wind or a temperature; JSON has no word for it
(RFC 8259, section 6), so what was written then is not read by everything that reads JSON.
"""

import math
from collections.abc import Iterator
from typing import Any, Final

MAY_BE_BLANK: Final = frozenset({"wind_mph", "temperature_f", "start_min", "end_min"})
"""Fields that a record may leave blank; any other figure that is no number becomes 0."""


def no_numbers(value: Any, place: str = "") -> Iterator[str]:
    """Places of figures that are no number, as 'wind_mph' or 'products[1].amount'."""
    if isinstance(value, float):
        if not math.isfinite(value):
            yield place
    elif isinstance(value, dict):
        for name, one in value.items():
            yield from no_numbers(one, f"{place}.{name}" if place else str(name))
    elif isinstance(value, (list, tuple)):
        for number, one in enumerate(value):
            yield from no_numbers(one, f"{place}[{number}]")


def without_no_numbers(value: Any, name: str = "") -> Any:
    """The same with such figures blank, or 0 where a record cannot be without."""
    if isinstance(value, float) and not math.isfinite(value):
        return None if name in MAY_BE_BLANK else 0.0
    if isinstance(value, dict):
        return {key: without_no_numbers(one, key) for key, one in value.items()}
    if isinstance(value, list):
        return [without_no_numbers(one, name) for one in value]
    return value
