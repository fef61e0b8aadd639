"""Checksums of what the store keeps: of each event, and of the texts of plans."""

import hashlib
import zlib
from collections.abc import Sequence
from typing import Any, Final

CHECKSUM_DIGITS: Final = 10
"""So much of a plan's SHA-256 is printed on its sheets."""


def seal(row: Sequence[Any]) -> str:
    """SHA-256 of everything of an event but the sum itself; `previous` is the last of it."""
    # Each cell goes in with its length, so that no two rows give one text.
    texts = [str(cell) for cell in row]
    lengths = ",".join([str(len(text)) for text in texts])
    return hashlib.sha256(f"{lengths}:{''.join(texts)}".encode()).hexdigest()


def text_sha256(text: str) -> str:
    """Under which the text of a plan is kept."""
    return hashlib.sha256(text.encode()).hexdigest()


def plan_checksum(text: str) -> str:
    """First digits of the SHA-256 of a plan's JSON text, as every sheet prints it."""
    return text_sha256(text)[:CHECKSUM_DIGITS]


def packed(text: str) -> bytes:
    """A text as the store keeps it; unpacked() reads it."""
    return zlib.compress(text.encode(), 9)


def unpacked(sha256: str, packed: bytes) -> str | None:
    """The text of a plan, None when it is not the one that its name says."""
    try:
        raw = zlib.decompress(packed)
    except zlib.error:
        return None
    return raw.decode() if hashlib.sha256(raw).hexdigest() == sha256 else None
