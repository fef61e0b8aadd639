"""A cell that cannot be read as what its column holds."""

from __future__ import annotations


class CellError(ValueError):
    """code: stable problem code; message: what is wrong; cure: what to write instead."""

    def __init__(self, code: str, message: str, cure: str) -> None:
        self.code, self.message, self.cure = code, message, cure
        super().__init__(f"{message}; {cure}")
