"""Some properties of many bodies, cut out by SQLite's JSON functions before Python sees them.

https://www.sqlite.org/json1.html: json_extract with several paths gives a JSON array of what stands
there, numbers as they were written, null where there is nothing.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

Body = dict[str, Any]
"""What an event tells, as plain JSON."""


@dataclass(frozen=True)
class Parts:
    """names: of the body itself; lists: (list, names of each of its entries). columns, paths: of
    the query and its values; both empty = whole bodies."""

    names: tuple[str, ...]
    lists: tuple[tuple[str, tuple[str, ...]], ...]
    columns: str
    paths: tuple[str, ...]

    @staticmethod
    def of(wanted: Sequence[str]) -> Parts:
        """From names like 'order_id' and 'products.amount'."""
        plain = [name for name in wanted if "." not in name]
        inner: dict[str, list[str]] = {}
        for name in wanted:
            if "." in name:
                whole, part = name.split(".")
                inner.setdefault(whole, []).append(part)
        if not wanted:
            return Parts((), (), "", ())
        # Of two paths and more the answer is an array, whatever is there.
        columns = f", json_extract(body, {_marks(len(plain) + 2)})"
        paths = _paths([*plain, "", ""])
        for whole, parts in inner.items():
            columns += (
                f", (SELECT json_group_array(json(json_extract(value, {_marks(len(parts) + 1)})))"
                " FROM json_each(event.body, ?))"
            )
            paths += _paths([*parts, "", whole])
        lists = tuple((whole, tuple(parts)) for whole, parts in inner.items())
        return Parts(tuple(plain), lists, columns, tuple(paths))

    def bodies(self, rows: Sequence[Sequence[str]]) -> list[Body]:
        """The parts of bodies that are in the added columns of rows (of a whole body: its own
        column alone)."""
        # One text is read much faster than thousands of small ones.
        columns = [json.loads(f"[{','.join(column)}]") for column in zip(*rows, strict=True)]
        if not columns:
            return []
        if not self.paths:
            whole: list[Body] = columns[0]
            return whole
        bodies: list[Body] = [dict(zip(self.names, one, strict=False)) for one in columns[0]]
        for (name, parts), entries in zip(self.lists, columns[1:], strict=True):
            for body, found in zip(bodies, entries, strict=True):
                body[name] = [dict(zip(parts, one, strict=False)) for one in found]
        return bodies

    def cut(self, body: Body) -> Body:
        """The parts of one whole body."""
        if not self.paths:
            return body
        found = {name: body.get(name) for name in self.names}
        for name, parts in self.lists:
            found[name] = [{part: one.get(part) for part in parts} for one in body.get(name) or ()]
        return found


def _marks(count: int) -> str:
    return ", ".join("?" * count)


def _paths(names: Sequence[str]) -> list[str]:
    return [f'$."{name}"' for name in names]
