"""Reading files that anybody may have named or written: plain ones, and none that fills the
memory. A pipe would be waited for without end, a device never ends."""

from __future__ import annotations

import contextlib
import errno
import gc
import stat
from collections.abc import Iterator
from pathlib import Path
from typing import Final

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
