"""Addresses: spellings, house numbers of an extract, interpolation.

Abbreviations: US Postal Service Publication 28, appendices B and C (from memory). Positions on
hand-made streets were worked by hand."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from planner.roads.address_book import (
    AddressBook,
    Found,
    House,
    Sureness,
    read_address_book,
)
from planner.roads.addresses import Question, number_key, parse_address, street_key, zip_of
from planner.roads.reader import tagged_things
from planner.roads.sphere import great_circle_ft
from planner.roads.travel import RoadError
from tests.roads_sketch import Sketch, at

SHARED = Path(__file__).resolve().parents[2] / "shared" / "roads"


def feet(a: tuple[float, float] | None, b: tuple[float, float]) -> float:
    assert a is not None
    return float(great_circle_ft(*a, *b))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("N. Vista Trl", "North Vista Trail"),
        ("ST. JOHN'S RD", "Saint Johns Road"),
        ("5th Ave", "Fifth Avenue"),
        ("109 Ave", "109th Avenue"),
        ("Mt Vernon Ave", "Mount Vernon Avenue"),
        ("SR 918", "State Route 918"),
        ("OH-918", "State Rte. 918"),
        ("US Hwy 42", "US 42"),
        ("Co Rd 12", "County Road 12"),
        ("Cañon Pkwy", "Canon Parkway"),
        ("Main St W", "Main Street West"),
    ],
)
def test_spellings_of_one_street(one, other):
    assert street_key(one) == street_key(other)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("North Vista Trail", "South Vista Trail"),
        ("Vista Trail", "Vista Court"),
        ("5th Avenue", "15th Avenue"),
        ("5th Avenue", "5th Street"),
        ("Avenue B", "Avenue C"),
        ("US 42", "State Route 42"),
    ],
)
def test_different_streets_stay_different(one, other):
    assert street_key(one) != street_key(other)


@pytest.mark.parametrize(
    ("text", "number", "street"),
    [
        ("732 Vista Trail", "732", "vista trail"),
        ("  732,  Vista Trail, Alder Mills OH", "732", "vista trail"),
        ("732 Vista Trl Apt 4B", "732", "vista trail"),
        ("732 Vista Trail #4, Alder Mills", "732", "vista trail"),
        ("203-06 109th Ave.", "203-06", "109 avenue"),
        ("55 1/2 Elm St", "55½", "elm street"),
        ("12b Main St", "12B", "main street"),
        ("88 Lot Road", "88", "lot road"),
        ("Elm Street", "", "elm street"),
    ],
)
def test_number_and_street_of_an_address(text, number, street):
    assert parse_address(text).readings[0] == (number, street)


def test_letter_after_the_number_is_a_direction_or_part_of_it():
    assert parse_address("12 E Main St").readings == (
        ("12", "east main street"),
        ("12E", "main street"),
    )


def test_blank_address_has_no_reading():
    assert parse_address("  ").readings == ()
    assert AddressBook([], [], {}).find(Question("")).sure is Sureness.NOT_FOUND


def test_zip_codes():
    assert [zip_of(text) for text in ("43998", "43998-1234", "4398", "OH 43998", "", "x")] == [
        "43998",
        "43998",
        "04398",
        "43998",
        "",
        "",
    ]
    assert number_key("12 a") == "12A"


def elm(**more: str) -> Sketch:
    """Elm Street, 1,000 ft eastward, with houses 50 ft north (even) and south (odd) of it."""
    sketch = Sketch()
    for name, x, y in (("A", 0, 0), ("B", 1000, 0), ("C", 1000, 1000)):
        sketch.node(name, x, y)
    sketch.way("Elm Street", "A B")
    sketch.way("Oak Street", "B C")
    for number, x in ((100, 100), (104, 300), (120, 800)):
        tags = {"addr:housenumber": str(number), "addr:street": "Elm Street", **more}
        sketch.nodes[f"h{number}"] = (x, 50, tags)
    sketch.nodes["h101"] = (100, -50, {"addr:housenumber": "101", "addr:street": "Elm Street"})
    return sketch


def find(sketch: Sketch, folder: Path, address: str, **more: str) -> Found:
    question = Question(address, **more)
    return read_address_book(sketch.write(folder / "town.osm"), [question]).find(question)


def test_exact_number(tmp_path):
    found = find(elm(), tmp_path, "104 Elm St.")
    assert found.sure is Sureness.EXACT
    assert feet(found.point, at(300, 50)) < 0.5
    assert found.found_as == "104 Elm Street"


def test_number_between_two_of_its_side(tmp_path):
    # 110 lies 6/16 of the way from 104 at 300 ft to 120 at 800 ft: 487.5 ft.
    found = find(elm(), tmp_path, "110 Elm St")
    assert found.sure is Sureness.INTERPOLATED
    assert feet(found.point, at(487.5, 50)) < 1
    # The odd side has one number only: nothing to interpolate, the nearest number stands for it.
    found = find(elm(), tmp_path, "107 Elm St")
    assert found.sure is Sureness.STREET
    assert "104 Elm Street" in found.found_as or "101 Elm Street" in found.found_as


def test_lettered_number_stands_at_its_number(tmp_path):
    found = find(elm(), tmp_path, "104B Elm St")
    assert found.sure is Sureness.INTERPOLATED
    assert feet(found.point, at(300, 50)) < 0.5


def test_street_without_numbers_gives_its_middle(tmp_path):
    found = find(elm(), tmp_path, "12 Oak Street")
    assert found.sure is Sureness.STREET
    assert found.found_as == "the middle of Oak Street"
    assert feet(found.point, at(1000, 500)) <= 500


def test_unknown_street_and_number(tmp_path):
    assert find(elm(), tmp_path, "1 Nowhere Lane").found_as == (
        "the extract has no street Nowhere Lane"
    )
    long = elm()
    long.node("far", 30_000, 0)
    long.way("Oak Street 2", "B far")
    long.ways["Oak Street 2"][1]["name"] = "Oak Street"
    found = find(long, tmp_path, "12 Oak Street")
    assert (found.sure, found.point) == (Sureness.NOT_FOUND, None)


def test_suffix_left_out_or_wrong_is_forgiven_when_one_street_is_meant(tmp_path):
    assert find(elm(), tmp_path, "104 Elm").sure is Sureness.EXACT
    two = elm()
    two.way("Elm Court", "B C")
    assert find(two, tmp_path, "104 Elm").sure is Sureness.NOT_FOUND
    assert find(two, tmp_path, "104 Elm Street").sure is Sureness.EXACT


@pytest.mark.parametrize(
    ("asked", "sure"),
    [
        ({"zip_code": "43001", "town": "Alder"}, Sureness.EXACT),
        ({"zip_code": "43001", "town": "Postal Name"}, Sureness.EXACT),
        ({"town": "Alder"}, Sureness.EXACT),
        ({}, Sureness.EXACT),
        ({"zip_code": "43002"}, Sureness.NOT_FOUND),
        ({"zip_code": "43002", "town": "Alder"}, Sureness.NOT_FOUND),
        ({"town": "Birch"}, Sureness.NOT_FOUND),
        ({"zip_code": "43001", "state": "PA"}, Sureness.NOT_FOUND),
    ],
)
def test_town_and_zip_code_that_contradict(tmp_path, asked, sure):
    sketch = elm(**{"addr:city": "Alder", "addr:postcode": "43001", "addr:state": "OH"})
    found = find(sketch, tmp_path, "104 Elm St", **asked)
    assert found.sure is sure
    if sure is Sureness.NOT_FOUND:
        assert "another town" in found.found_as


def test_same_address_in_two_towns(tmp_path):
    sketch = elm(**{"addr:city": "Alder"})
    sketch.nodes["other"] = (
        50_000,
        0,
        {"addr:housenumber": "104", "addr:street": "Elm Street", "addr:city": "Birch"},
    )
    assert find(sketch, tmp_path, "104 Elm St", town="Alder").sure is Sureness.EXACT
    found = find(sketch, tmp_path, "104 Elm St", town="Birch")
    assert feet(found.point, at(50_000, 0)) < 1
    found = find(sketch, tmp_path, "104 Elm St")
    assert found.sure is Sureness.NOT_FOUND
    assert "more than once" in found.found_as


@pytest.mark.parametrize(
    ("kind", "number", "x"),
    [
        ("even", "210", 1250.0),  # 10/40 of the 1,000 ft from 200 to 240, worked by hand
        ("even", "211", None),
        ("all", "211", 1275.0),
        ("10", "220", 1500.0),
        ("10", "225", None),
        ("alphabetic", "210", None),
    ],
)
def test_interpolation_way(tmp_path, kind, number, x):
    sketch = elm()
    sketch.nodes["n200"] = (1000, 50, {"addr:housenumber": "200"})
    sketch.node("bend", 1500, 50)
    sketch.nodes["n240"] = (2000, 50, {"addr:housenumber": "240"})
    sketch.ways["line"] = (
        ["n200", "bend", "n240"],
        {"addr:interpolation": kind, "addr:street": "Elm Street"},
    )
    found = find(sketch, tmp_path, f"{number} Elm St")
    if x is None:
        assert found.sure is not Sureness.INTERPOLATED
    else:
        assert found.sure is Sureness.INTERPOLATED
        assert feet(found.point, at(x, 50)) < 1


def test_building_counts_by_its_middle_and_lists_of_numbers(tmp_path):
    sketch = elm()
    for name, x, y in (("p", 400, 60), ("q", 440, 60), ("r", 440, 100), ("s", 400, 100)):
        sketch.node(name, x, y)
    sketch.ways["house"] = (
        ["p", "q", "r", "s", "p"],
        {"building": "yes", "addr:housenumber": "106;108", "addr:street": "Elm Street"},
    )
    for number in ("106", "108"):
        found = find(sketch, tmp_path, f"{number} Elm St")
        assert found.sure is Sureness.EXACT
        assert feet(found.point, at(420, 80)) < 1


def test_broken_extract(tmp_path):
    path = tmp_path / "broken.osm.pbf"
    path.write_bytes(b"no road file")
    with pytest.raises(RoadError, match="cannot be read"):
        read_address_book(path, [Question("1 Elm St")])
    with pytest.raises(RoadError, match="does not exist"):
        read_address_book(tmp_path / "none.osm.pbf", [Question("1 Elm St")])


@pytest.fixture(scope="module")
def queens():
    path = SHARED / "queens-village-ny-addresses.osm.pbf"
    if not path.is_file():
        pytest.skip("the address extract is not beside the repository")
    every = [t for t in tagged_things(path, ("addr:housenumber",)) if "addr:street" in t.tags]
    chosen = random.Random(5).sample(every, 200)
    questions = [
        Question(
            f"{thing.tags['addr:housenumber']} "
            + thing.tags["addr:street"].replace("Avenue", "Ave").replace("Street", "St."),
            "Queens Village" if "addr:city" not in thing.tags else "",
            "NY",
            thing.tags.get("addr:postcode", ""),
        )
        for thing in chosen
    ]
    middles = []
    for thing in chosen:
        lat, lon = zip(*thing.points, strict=True)
        middles.append(((min(lat) + max(lat)) / 2, (min(lon) + max(lon)) / 2))
    return read_address_book(path, questions), questions, middles, chosen


def test_real_addresses_are_found(queens):
    """Queens, New York (OpenStreetMap contributors, ODbL): hyphenated numbers, ordinals."""
    book, questions, middles, _ = queens
    for question, middle in zip(questions, middles, strict=True):
        found = book.find(question)
        assert found.sure is Sureness.EXACT, question
        assert feet(found.point, middle) < 400


def test_real_addresses_that_the_map_lacks_are_interpolated(queens):
    """The same houses taken out of the book: their neighbours tell where they are."""
    book, questions, middles, chosen = queens
    gone = {
        (number_key(t.tags["addr:housenumber"]), street_key(t.tags["addr:street"])) for t in chosen
    }
    rest = [
        house
        for key, houses in book._houses.items()
        for house in houses
        if (house.number, key) not in gone
    ]
    assert all(isinstance(house, House) for house in rest)
    thinner = AddressBook(rest, [], {})
    off: dict[Sureness, list[float]] = {sure: [] for sure in Sureness}
    for question, middle in zip(questions, middles, strict=True):
        found = thinner.find(question)
        off[found.sure].append(feet(found.point, middle) if found.point else 0.0)
    assert len(off[Sureness.INTERPOLATED]) > 120
    assert sorted(off[Sureness.INTERPOLATED])[len(off[Sureness.INTERPOLATED]) * 9 // 10] < 60
    assert max(off[Sureness.INTERPOLATED]) < 400
    assert max(off[Sureness.STREET]) < 700
