"""Bodies of requests, read with care."""

from __future__ import annotations

from typing import Any, Final

from starlette.requests import ClientDisconnect, Request

from planner.plain_json import read_json

NOT_KEPT: Final = {"cache-control": "no-store"}
"""Headers of an answer that no browser keeps."""


class Bad(Exception):
    """A request that is none of the page's, in words."""


async def body_of(request: Request) -> dict[str, Any]:
    """The JSON object that a request carries. Raises Bad."""
    try:
        body = read_json((await request.body()).decode("utf-8"), typed=True)
    except ClientDisconnect:
        raise Bad("the body is too long, or was not sent to its end") from None
    except (ValueError, UnicodeDecodeError) as error:
        raise Bad(f"not JSON: {error}") from error
    if not isinstance(body, dict):
        raise Bad("an object expected")
    return body
