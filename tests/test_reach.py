"""Numbers and addresses as links: RFC 3966 (tel), RFC 5724 (sms), RFC 6068 (mailto)."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.day.places import reach_text, tel, ways
from tests.days import home

AT = replace(
    home("P1", 40.0, -83.0, 5000.0),
    phone="(614) 555-0142 (cell)",
    phone_2="(614) 555-0143 ext. 12",
    email="pat+lawn@example.com",
)


@pytest.mark.parametrize(
    ("number", "link"),
    [
        ("(614) 555-0142", "tel:+16145550142"),
        ("(614) 555-0142 ext. 12 (barn)", "tel:+16145550142;ext=12"),
        ("(614) 555-0142 (2nd house)", "tel:+16145550142"),
        ("+44 20 7946 0018", "tel:+442079460018"),
        ("1-614-555-0142", "tel:+16145550142"),
        ("614.555.0142", "tel:+16145550142"),
        ("555-0142", ""),
        ("by mail", ""),
    ],
)
def test_links_that_call(number: str, link: str) -> None:
    assert tel(number) == link


def test_the_wanted_way_comes_first() -> None:
    assert [(way.how, way.href) for way in ways(AT)] == [
        ("call", "tel:+16145550142"),
        ("call", "tel:+16145550143;ext=12"),
        ("text", "sms:+16145550142"),
        ("email", "mailto:pat+lawn@example.com"),
    ]
    assert ways(replace(AT, contact_by="email"))[0].text == "pat+lawn@example.com"
    assert ways(replace(AT, contact_by="none")) == ()


def test_on_paper() -> None:
    assert reach_text(AT) == "(614) 555-0142 (cell); (614) 555-0143 ext. 12; pat+lawn@example.com"
    wants = replace(AT, contact_by="text", phone_2="", email="", language="Spanish")
    assert reach_text(wants) == "text (614) 555-0142 (cell); speaks Spanish"
    assert reach_text(replace(AT, contact_by="none")) == "wants no calls or messages"
    assert reach_text(home("P2", 40.0, -83.0, 5000.0)) == ""
