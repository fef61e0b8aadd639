"""How compiled functions hand a day's arrays to each other: by one address.

numba hands a tuple of arrays over as all of their addresses, lengths and strides, a few hundred
numbers at each of some hundred calls, and most of the time to compile went there. Here a tuple
(machine_code.handed_over) is the address of its members, and so is each of its arrays, a table:
what a function asks of it is read where it asks. numba lets an index count from the end, too; a
table's may not.
"""

# numba has no types of its own for what extends it.
# mypy: disable-error-code="no-untyped-call, untyped-decorator, call-overload, override"

import operator
from hashlib import sha256
from typing import Any

from llvmlite import ir  # type: ignore[import-untyped]
from numba.core import cgutils, types
from numba.core.typing.templates import (
    AbstractTemplate,
    AttributeTemplate,
    infer_getattr,
    infer_global,
    signature,
)
from numba.extending import (
    NativeValue,
    lower_builtin,
    lower_getattr_generic,
    models,
    register_model,
    typeof_impl,
    unbox,
)

_DATA, _SHAPE = 4, 5
"""Where numba's array has its items' address and its lengths (numba.core.datamodel)."""


class SearchTable(types.Type):
    """An array of rows without gaps."""

    def __init__(self, array: Any) -> None:
        if array.layout != "C":
            raise TypeError("a table has gaps between its rows")
        self.array, self.dtype, self.ndim = array, array.dtype, array.ndim
        super().__init__(f"Table{array.ndim}{array.dtype}")


class SearchTuple(types.Type):
    """A named tuple of numbers and tables."""

    def __init__(self, name: str, whole: Any) -> None:
        self.whole = whole
        # Short, as the names of all functions that take it hold it; the same in every process.
        super().__init__(f"{name}{sha256(str(whole).encode()).hexdigest()[:16]}")

    def of(self, name: str) -> Any:
        """Type of a member."""
        member = self.whole[self.whole.fields.index(name)]
        return SearchTable(member) if isinstance(member, types.Array) else member


class _Address(models.PrimitiveModel):
    def __init__(self, manager: Any, kind: Any) -> None:
        what = kind.array if isinstance(kind, SearchTable) else kind.whole
        super().__init__(manager, kind, manager[what].get_value_type().as_pointer())


register_model(SearchTable)(_Address)
register_model(SearchTuple)(_Address)


def hand_over(kind: type) -> None:
    """Hand over values of that class of named tuples so."""

    @typeof_impl.register(kind)
    def _(value: Any, context: Any) -> Any:
        members = [typeof_impl(member, context) for member in value]
        return SearchTuple(kind.__name__, types.NamedTuple(members, kind))


@unbox(SearchTuple)
def _from_python(kind: SearchTuple, value: Any, c: Any) -> Any:
    whole = c.unbox(kind.whole, value)
    place = cgutils.alloca_once_value(c.builder, whole.value)
    # What lies there is written before anybody reads it, and read as what never changes: whoever
    # reads must not be seen through to what wrote it.
    hidden = cgutils.alloca_once(c.builder, place.type)
    c.builder.store(place, hidden).volatile = True
    seen = c.builder.load(hidden)
    seen.volatile = True
    return NativeValue(seen, is_error=whole.is_error, cleanup=whole.cleanup)


@infer_getattr
class _MemberOf(AttributeTemplate):
    key = SearchTuple

    def generic_resolve(self, kind: SearchTuple, name: str) -> Any:
        return kind.of(name)


@infer_getattr
class _ShapeOf(AttributeTemplate):
    key = SearchTable

    def resolve_shape(self, kind: SearchTable) -> Any:
        return types.UniTuple(types.intp, kind.ndim)


def _fixed(builder: Any, address: Any) -> Any:
    """What lies there, which never changes."""
    value = builder.load(address)
    value.set_metadata("invariant.load", builder.module.add_metadata([]))
    return value


@lower_getattr_generic(SearchTuple)
def _member(context: Any, builder: Any, kind: SearchTuple, value: Any, name: str) -> Any:
    address = cgutils.gep_inbounds(builder, value, 0, kind.whole.fields.index(name))
    return address if isinstance(kind.of(name), SearchTable) else _fixed(builder, address)


def _length(builder: Any, table: Any, axis: int) -> Any:
    return _fixed(builder, cgutils.gep_inbounds(builder, table, 0, _SHAPE, axis))


@lower_getattr_generic(SearchTable)
def _shape(context: Any, builder: Any, kind: SearchTable, value: Any, name: str) -> Any:
    lengths = [_length(builder, value, axis) for axis in range(kind.ndim)]
    return cgutils.pack_array(builder, lengths)


def _indices(kind: Any) -> Any:
    """How many whole numbers an index is, None = another index."""
    each = list(kind) if isinstance(kind, types.BaseTuple) else [kind]
    whole = all(isinstance(types.unliteral(one), types.Integer) for one in each)
    return len(each) if whole else None


@infer_global(operator.getitem)
class _Get(AbstractTemplate):
    prefer_literal = True

    def generic(self, args: Any, keywords: Any) -> Any:
        table, index = args
        if isinstance(table, SearchTable) and _indices(index) == table.ndim:
            return signature(table.dtype, table, index)
        return None


@infer_global(operator.setitem)
class _Set(AbstractTemplate):
    prefer_literal = True

    def generic(self, args: Any, keywords: Any) -> Any:
        table, index, _ = args
        if isinstance(table, SearchTable) and _indices(index) == table.ndim:
            return signature(types.none, table, index, table.dtype)
        return None


def _address(context: Any, builder: Any, kinds: Any, values: Any) -> Any:
    """Where an item of a table lies."""
    table, index = values[:2]
    alone = not isinstance(kinds[1], types.BaseTuple)
    each = [index] if alone else cgutils.unpack_tuple(builder, index)
    numbers = [
        ir.Constant(ir.IntType(64), kind.literal_value)
        if isinstance(kind, types.Literal)
        else context.cast(builder, value, kind, types.intp)
        for kind, value in zip([kinds[1]] if alone else kinds[1], each, strict=True)
    ]
    at, no_wrap = numbers[0], ["nsw"]
    for axis, number in enumerate(numbers[1:], 1):
        row = builder.mul(at, _length(builder, table, axis), flags=no_wrap)
        at = builder.add(row, number, flags=no_wrap)
    data = _fixed(builder, cgutils.gep_inbounds(builder, table, 0, _DATA))
    return builder.gep(data, [at], inbounds=True)


@lower_builtin(operator.getitem, SearchTable, types.Any)
def _get(context: Any, builder: Any, sig: Any, values: Any) -> Any:
    address = _address(context, builder, sig.args, values)
    return context.unpack_value(builder, sig.args[0].dtype, address)


@lower_builtin(operator.setitem, SearchTable, types.Any, types.Any)
def _set(context: Any, builder: Any, sig: Any, values: Any) -> Any:
    address = _address(context, builder, sig.args, values)
    context.pack_value(builder, sig.args[0].dtype, values[2], address)
    return context.get_dummy_value()
