"""Reading files that anybody may have named or written: plain ones, and none that fills the
memory. A pipe would be waited for without end, a device never ends. JSON from strangers: what
Python's reader chokes on or lets through is refused in words."""

import contextlib
import errno
import gc
import json
import math
import re
import stat
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

MOST_BYTES: Final = 200_000_000


def bytes_of(path: Path) -> bytes:
    """What a file holds. Raises OSError, also for what is no plain file or too large."""
    facts = path.stat()
    if not stat.S_ISREG(facts.st_mode):
        what = "it is a folder" if stat.S_ISDIR(facts.st_mode) else "it is no plain file"
        raise OSError(errno.EINVAL, what, str(path))
    if facts.st_size > MOST_BYTES:
        size = f"it is too large: {facts.st_size / 1e6:,.0f} MB; at most {MOST_BYTES / 1e6:,.0f}"
        raise OSError(errno.EFBIG, size, str(path))
    return path.read_bytes()


def text_of(path: Path, encoding: str = "utf-8", errors: str = "strict") -> str:
    """The same as text, line ends as they are kept here. Raises OSError and UnicodeDecodeError."""
    text = bytes_of(path).decode(encoding, errors)
    return text.replace("\r\n", "\n").replace("\r", "\n")


def why(error: Exception) -> str:
    """The reason in words, without the number and the path that Python adds."""
    if isinstance(error, UnicodeDecodeError):
        return "it is not text in UTF-8"
    return (error.strerror if isinstance(error, OSError) else None) or str(error)


@contextlib.contextmanager
def without_collecting() -> Iterator[None]:
    """No search for garbage inside. Millions of small values that all stay are read: looking for
    garbage among them again and again takes longer than reading them."""
    on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if on:
            gc.enable()


MOST_DEEP: Final = 100
MOST_DIGITS: Final = 18
_OUTSIDE = re.compile(r'"(?:[^"\\]|\\.)*"|[\[\]{}]')
_STEERS = re.compile(
    r"(?<!\\)(?:\\\\)*\\(?:u00(?:0[0-8bcef]|1[0-9a-f]|7f|[89][0-9a-f])|[bf])|[\x7f-\x9f]",
    re.IGNORECASE,
)
_HALF_A_LETTER = re.compile(r"\\u[dD][89a-fA-F]")


def read_json(text: str, *, typed: bool = False) -> Any:
    """What a JSON text holds. Raises ValueError (JSONDecodeError where the text is no JSON) for
    lists in lists without end, numbers that are not finite or that no computer keeps, and halves
    of letters, too. typed: by a person, on a page: the rest counts, and a letter that was cut in
    half or steers a terminal is replaced."""
    deep = deepest = 0
    for match in _OUTSIDE.finditer(text):
        deep += (match[0] in "[{") - (match[0] in "]}")
        deepest = max(deepest, deep)
    if deepest > MOST_DEEP:
        raise ValueError(f"lists stand in each other {deepest} deep; at most {MOST_DEEP}")
    raw = json.loads(text, parse_int=_int, parse_float=_float, parse_constant=_float)
    if typed:
        return _mended(raw) if _HALF_A_LETTER.search(text) or _STEERS.search(text) else raw
    if _HALF_A_LETTER.search(text):
        try:
            json.dumps(raw, ensure_ascii=False).encode()
        except UnicodeEncodeError:
            raise ValueError("a text holds half a letter (a lone surrogate)") from None
    if _STEERS.search(text):
        raise ValueError("a text holds signs that steer a terminal")
    return raw


def _mended(value: Any) -> Any:
    if isinstance(value, dict):
        return {_mended(name): _mended(one) for name, one in value.items()}
    if isinstance(value, list):
        return list(map(_mended, value))
    if not isinstance(value, str):
        return value
    whole = value.encode("utf-16-le", "surrogatepass").decode("utf-16-le", "replace")
    return re.sub(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]", "\ufffd", whole)


def _int(digits: str) -> int:
    if len(digits) > MOST_DIGITS:
        raise ValueError(f"a number of {len(digits)} digits; at most {MOST_DIGITS}")
    return int(digits)


def _float(digits: str) -> float:
    value = float(digits)
    if not math.isfinite(value):
        raise ValueError(f"{digits[:40]} is no number")
    return value
