"""Garbage is looked for when nobody waits for an answer."""

import asyncio
import gc
from typing import Final

from starlette.types import ASGIApp, Receive, Scope, Send

QUIET_S: Final = 5.0
"""After the last answer. Looking through all that an open day holds takes a third of a second, and
Python by itself does it in the middle of a change."""


class CollectsWhenQuiet:
    """An application that is looked through for garbage QUIET_S after its last answer, and not in
    between; young garbage, which is nearly all of it, goes as ever. Of the whole process: it is for
    one that does nothing but serve."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app
        self._later: asyncio.TimerHandle | None = None
        young, middle, _ = gc.get_threshold()
        gc.set_threshold(young, middle, 1_000_000)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """As ASGI has it."""
        try:
            await self._app(scope, receive, send)
        finally:
            if self._later is not None:
                self._later.cancel()
            self._later = asyncio.get_running_loop().call_later(QUIET_S, gc.collect)
