"""What pages that start, watch and stop a run have in common."""

from __future__ import annotations

import json
from collections.abc import Callable

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from planner.office.changes import Refused
from planner.office.runs import CommandRun, Run
from planner.serve.bodies import NOT_KEPT
from planner.serve.events import Hub, event_stream


def run_routes(name: str, run: CommandRun, hub: Hub) -> list[Route]:
    """`GET /NAME/events`: event NAME, a Run as JSON, as it goes on. `POST /NAME/stop`."""
    run.listeners.append(lambda state: hub.tell(name, **vars(state)))

    async def events(request: Request) -> Response:
        return event_stream(hub, name, json.dumps(vars(run.state)))

    async def stop(request: Request) -> Response:
        return JSONResponse(vars(await run_in_threadpool(run.stop)))

    return [Route(f"/{name}/events", events), Route(f"/{name}/stop", stop, methods=["POST"])]


async def started(start: Callable[[], Run]) -> Response:
    """The run that begins, as JSON, or 422 with why it does not."""
    try:
        state = await run_in_threadpool(start)
    except Refused as error:
        return JSONResponse({"say": str(error)}, 422)
    return JSONResponse(vars(state), headers=NOT_KEPT)
