"""Server-sent events: what happened, to every page that is open."""

from __future__ import annotations

import asyncio
import contextlib
import json
from collections.abc import AsyncIterator, Callable
from typing import Any, Final

from starlette.responses import StreamingResponse

from planner.serve.bodies import NOT_KEPT

STILL_HERE_S: Final = 15.0
LOOK_S: Final = 0.5
"""So long an open stream holds a server that is to end."""
MOST_WAITING: Final = 500


class Hub:
    """Tells events from any thread to all streams. ending: whether the server is to end."""

    def __init__(self) -> None:
        self.ending: Callable[[], bool] = lambda: False
        self._loop: asyncio.AbstractEventLoop | None = None
        self._streams: set[asyncio.Queue[str]] = set()

    def tell(self, kind: str, **what: Any) -> None:
        """Send an event to every stream."""
        text = f"event: {kind}\ndata: {json.dumps(what)}\n\n"
        if self._loop is not None and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._put, text)

    async def stream(self, first: str = "") -> AsyncIterator[str]:
        """The events from now on, as text."""
        self._loop = asyncio.get_running_loop()
        queue: asyncio.Queue[str] = asyncio.Queue(MOST_WAITING)
        self._streams.add(queue)
        try:
            yield first or ": here\n\n"
            quiet = 0.0
            while not self.ending():
                with contextlib.suppress(TimeoutError):
                    yield await asyncio.wait_for(queue.get(), LOOK_S)
                    quiet = 0.0
                    continue
                quiet += LOOK_S
                if quiet >= STILL_HERE_S:
                    quiet = 0.0
                    yield ": still here\n\n"
        finally:
            self._streams.discard(queue)

    def _put(self, text: str) -> None:
        for queue in self._streams:
            # A page that reads no more learns everything from the next revision.
            with contextlib.suppress(asyncio.QueueFull):
                queue.put_nowait(text)


def event_stream(hub: Hub, kind: str, data: str) -> StreamingResponse:
    """An answer that begins with an event and goes on with all that follow. data: JSON."""
    first = f"event: {kind}\ndata: {data}\n\n"
    return StreamingResponse(hub.stream(first), media_type="text/event-stream", headers=NOT_KEPT)
