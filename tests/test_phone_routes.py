"""The crews' routes: a truck's key opens that truck and nothing else; what is answered as kept is
in the records; the office sees codes and what is lacking."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.responses import PlainTextResponse
from starlette.types import Message

from planner.office.open_day import SharedDay
from planner.records.current import TICKED
from planner.serve.answers import Bad
from planner.serve.guard import Guard, Keys
from planner.serve.records import Phones
from tests.office_server import outside
from tests.phone_walk import DAY, office_with_a_plan, ticks_in_store

KEYS = Keys(b"s" * 32)
ADDRESS = "http://192.0.2.7:8765"


class Asked:
    """An application, asked in this process."""

    def __init__(self, book: Path, address: str = ADDRESS) -> None:
        plan = SimpleNamespace(date=DAY)
        opened = SimpleNamespace(
            workbook=book, state=SimpleNamespace(planned=SimpleNamespace(plan=plan))
        )
        phones = Phones(cast(SharedDay, opened), KEYS, address)
        self.app = Starlette(
            routes=phones.routes(),
            middleware=[Middleware(Guard, keys=KEYS, cookie="planner")],
            exception_handlers={Bad: lambda request, error: PlainTextResponse(str(error), 400)},
        )

    def __call__(
        self, path: str, body: Any = None, **headers: str
    ) -> tuple[int, dict[str, str], str]:
        sent: list[Message] = []
        data = b"" if body is None else json.dumps(body).encode()
        told = {"host": "192.0.2.7:8765", "content-length": str(len(data))} | headers
        scope = {
            "type": "http",
            "method": "GET" if body is None else "POST",
            "scheme": "http",
            "path": path,
            "raw_path": path.encode(),
            "query_string": b"",
            "headers": [(name.encode(), value.encode()) for name, value in told.items()],
        }

        async def receive() -> Message:
            return {"type": "http.request", "body": data, "more_body": False}

        async def send(message: Message) -> None:
            sent.append(message)

        outside(self.app(scope, receive, send))
        found = {name.decode(): value.decode() for name, value in sent[0]["headers"]}
        text = b"".join(message.get("body", b"") for message in sent[1:]).decode()
        return sent[0]["status"], found, text


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return office_with_a_plan(tmp_path_factory.mktemp("routes"))


@pytest.fixture
def asked(book: Path) -> Asked:
    return Asked(book)


def tick(number: int, **cells: object) -> dict[str, object]:
    return {
        "id": f"{number:024x}",
        "at": "2027-05-03T12:30:00Z",
        "plan": "abcd",
        "truck": "truck-1",
        "what": "spray",
        "stop": 1,
        "order": "1001",
        "compartment": "",
        "mix": "",
        "cells": cells,
    }


def test_a_key_opens_its_truck_and_nothing_else(asked: Asked) -> None:
    own = f"/truck/truck-1/{KEYS.truck('truck-1')}/"
    status, headers, text = asked(own)
    assert (status, text.count("<html")) == (200, 1)
    policy = headers["content-security-policy"]
    assert policy.count("sha256-") == 2
    assert "unsafe" not in policy
    assert headers["cache-control"].startswith("private, max-age=")
    for path in (
        f"/truck/truck-1/{KEYS.truck('truck-2')}/",
        f"/truck/truck-2/{KEYS.truck('truck-1')}/",
        "/truck/truck-1/x/",
        f"/truck/truck-1/{KEYS.office}/",
    ):
        assert asked(path)[0] == 404
        assert asked(f"{path}say", {"ticks": []}, origin=ADDRESS)[0] == 404
    for path in ("/day/phones", f"/day/phones/{KEYS.truck('truck-1')}"):
        assert asked(path)[0] == 401
    assert asked("/day/phones", cookie=f"planner={KEYS.truck('truck-1')}")[0] == 401


def test_what_is_answered_as_kept_is_in_the_records(asked: Asked, book: Path) -> None:
    place = f"/truck/truck-1/{KEYS.truck('truck-1')}/say"
    message = {"plan": "abcd", "ticks": [tick(1, gal=12.0), tick(2, done=True), {"id": "?"}]}
    assert asked(place, message)[0] == 403
    assert asked(place, message, origin="http://elsewhere.example")[0] == 403
    assert ticks_in_store(book) == []
    for _ in range(2):
        status, _headers, text = asked(place, message, origin=ADDRESS)
        answer = json.loads(text)
        assert status == 200
        assert (len(answer["kept"]), len(answer["refused"])) == (2, 1)
        assert answer["missing"]
        assert len(ticks_in_store(book)) == 2
    for bad in ([], {"ticks": "x"}, {"ticks": [{}] * 501}):
        assert asked(place, bad, origin=ADDRESS)[0] == 400
    status, headers, text = asked("/day/phones", cookie=f"planner={KEYS.office}")
    assert status == 200
    assert f"{ADDRESS}/truck/truck-1/{KEYS.truck('truck-1')}/" in text
    assert "<svg" in text
    assert "A. Alder:</b>" in text
    here = datetime(2027, 5, 3, 12, 30, tzinfo=UTC).astimezone()
    assert f"the crew last wrote at {here:%I:%M %p}".replace(" 0", " ") in text
    assert "sha256-" in headers["content-security-policy"]
    assert TICKED not in text


def test_codes_that_no_phone_can_open_are_told(book: Path) -> None:
    """Without --lan the codes name the loopback address, which on a phone is the phone itself
    (RFC 1122, 3.2.1.3)."""
    office = f"planner={KEYS.office}"
    for address, told in (("http://127.0.0.1:8765", True), (ADDRESS, False)):
        text = Asked(book, address)("/day/phones", cookie=office)[2]
        assert ("No phone can open these codes" in text) is told


def test_a_note_that_was_cut_within_a_letter_is_kept_with_the_rest(asked: Asked) -> None:
    """A phone cuts a text by halves of letters (UTF-16, ECMA-262 'String'), and JSON.stringify
    writes the half as an escape (ECMA-262, 25.5.2.3)."""
    row = tick(90, note="gate open \ud83d\x07", start=480)
    place = f"/truck/truck-1/{KEYS.truck('truck-1')}/say"
    status, _, text = asked(place, {"plan": "abcd", "ticks": [row]}, origin=ADDRESS)
    assert (status, json.loads(text)["kept"]) == (200, [row["id"]]), text
    assert json.loads(text)["cells"]["spray 1001"]["note"] == "gate open \ufffd\ufffd"
