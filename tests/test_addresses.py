"""Addresses: spellings, house numbers of an extract, interpolation.

Abbreviations: US Postal Service Publication 28, appendices B and C (from memory). Positions on
hand-made streets were worked by hand."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from planner.roads.address_book import AddressBook, AddressMatch, House, Sureness
from planner.roads.address_read import read_address_book
from planner.roads.addresses import (
    Question,
    number_key,
    parse_address,
    street_forms,
    street_key,
    zip_of,
)
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
    reading = parse_address(text).readings[0]
    assert (reading.number, reading.street) == (number, street)


def readings(text: str) -> list[tuple[str, str, str]]:
    every = parse_address(text).readings
    return [(one.number, one.street, one.cut) for one in every if one.is_told]


def test_letter_after_the_number_is_a_direction_or_part_of_it():
    assert readings("12 E Main St") == [
        ("12", "east main street", ""),
        ("12E", "main street", ""),
    ]


@pytest.mark.parametrize(
    ("text", "number", "street", "town", "state", "zip_code"),
    [
        ("12 Elm St Alder Mills OH 43998", "12", "elm street", "alder mills", "OH", "43998"),
        ("12 Elm St, Alder Mills, Ohio", "12", "elm street", "alder mills", "OH", ""),
        ("12 Ocean Dr, Miami FL 33101-1234, USA", "12", "ocean drive", "miami", "FL", "33101"),
        ("12 Elm St 3rd Floor Front, Alder", "12", "elm street", "alder", "", ""),
        ("12 Elm St Apt 4B Alder NY", "12", "elm street", "alder", "NY", ""),
        ("Apt 4, 12 Elm St", "12", "elm street", "", "", ""),
        ("12 Elm St Rear", "12", "elm street", "", "", ""),
        ("12 Elm CT", "12", "elm court", "", "", ""),
        ("20306 109 Ave", "203-06", "109 avenue", "", "", ""),
        ("203 06 109th Ave", "203-06", "109 avenue", "", "", ""),
        ("12 Ave of the Americas, New York", "12", "avenue of the americas", "new york", "", ""),
        ("12 Main St North Haven CT", "12", "main street north", "haven", "CT", ""),
    ],
)
def test_town_state_and_flat_in_one_cell(text, number, street, town, state, zip_code):
    parsed = parse_address(text)
    assert parsed.zip_code == zip_code
    told = [one for one in parsed.readings if one.is_told]
    assert (number, street, town, state) in [
        (one.number, one.street, one.town, one.state) for one in told
    ]


def test_suffix_or_direction_is_never_cut_off_as_a_town_or_state():
    """Else 'Elm Wy' would be Elm Street in Wyoming, and 'Elm St NE' an Elm Street without sides."""
    for text in ("12 Elm Wy", "12 Elm La", "12 Elm Ct", "12 Elm St NE", "12 Big Run Bluffs Dr"):
        assert len(readings(text)) == 1, text


def test_forms_of_a_name():
    forms = {(f.before, f.core, f.suffix, f.after) for f in street_forms("east park avenue")}
    assert forms == {
        ("east", "park", "avenue", ""),
        ("east", "park avenue", "", ""),
        ("", "east park", "avenue", ""),
        ("", "east park avenue", "", ""),
    }
    assert ("west", "street") not in {(f.before, f.core) for f in street_forms("west street")}


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


def find(sketch: Sketch, folder: Path, address: str, **more: str) -> AddressMatch:
    question = Question(address, **more)
    return read_address_book(sketch.write(folder / "town.osm")).find(question)


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
        "the map has no street Nowhere Lane"
    )
    long = elm()
    long.node("far", 30_000, 0)
    long.way("Oak Street 2", "B far")
    long.ways["Oak Street 2"][1]["name"] = "Oak Street"
    found = find(long, tmp_path, "12 Oak Street")
    assert (found.sure, found.point) == (Sureness.NOT_FOUND, None)


def texts(found: AddressMatch) -> list[str]:
    return [one.text for one in found.suggestions]


def test_suffix_left_out_is_forgiven_when_one_street_is_meant(tmp_path):
    assert find(elm(), tmp_path, "104 Elm").sure is Sureness.EXACT
    two = elm()
    two.way("Elm Court", "B C")
    found = find(two, tmp_path, "104 Elm")
    assert (found.sure, found.point) == (Sureness.PICK_ONE, None)
    assert texts(found)[0] == "104 Elm Street"
    assert find(two, tmp_path, "104 Elm Street").sure is Sureness.EXACT


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ("104 Elm Ave", "'avenue' where the map has 'street'"),
        ("104 N Elm St", "'north' where the map has nothing"),
        ("104 Elm Wy", "'way' where the map has 'street'"),
    ],
)
def test_contradicting_suffix_or_direction_needs_a_person(tmp_path, typed, why):
    found = find(elm(), tmp_path, typed)
    assert (found.sure, found.point) == (Sureness.DIFFERS, None)
    assert why in found.found_as
    assert texts(found)[0] == "104 Elm Street"
    assert feet(found.suggestions[0].point, at(300, 50)) < 0.5


def test_another_side_of_the_street_needs_a_person(tmp_path):
    """'246 East 14th Street' must not end at 246 West 14th Street."""
    sketch = elm()
    sketch.nodes["w"] = (0, 90, {"addr:housenumber": "246", "addr:street": "West 14th Street"})
    found = find(sketch, tmp_path, "246 E 14th St")
    assert (found.sure, found.point) == (Sureness.DIFFERS, None)
    assert texts(found)[0] == "246 West 14th Street"
    # Left out, it may be meant; there is no other.
    assert find(sketch, tmp_path, "246 14th St").sure is Sureness.EXACT


def test_two_streets_that_have_the_number_are_asked_about(tmp_path):
    sketch = elm()
    tags = {"addr:housenumber": "104", "addr:street": "North Elm Street"}
    sketch.nodes["n"] = (300, 5000, tags)
    found = find(sketch, tmp_path, "104 Elm St")
    assert (found.sure, texts(found)[:2]) == (
        Sureness.PICK_ONE,
        ["104 Elm Street", "104 North Elm Street"],
    )
    assert find(sketch, tmp_path, "104 N. Elm St").sure is Sureness.EXACT


@pytest.mark.parametrize("typed", ["104 Ellm St", "104 Eml Street", "104 elmm", "104 Elm Stret"])
def test_misspelled_names_are_suggested_and_not_taken(tmp_path, typed):
    found = find(elm(), tmp_path, typed)
    assert (found.sure, found.point) == (Sureness.PICK_ONE, None)
    assert texts(found)[0] == "104 Elm Street"


def test_another_name_of_a_street_is_known(tmp_path):
    sketch = elm()
    sketch.tag("Elm Street", alt_name="Avenue of the Oaks", ref="OH 918")
    for typed in ("104 Ave of the Oaks", "104 SR 918"):
        found = find(sketch, tmp_path, typed)
        assert (found.sure, found.found_as) == (Sureness.EXACT, "104 Elm Street")


@pytest.mark.parametrize(
    ("asked", "sure"),
    [
        ({"zip_code": "43001", "town": "Alder"}, Sureness.EXACT),
        ({"zip_code": "43001", "town": "Postal Name"}, Sureness.EXACT),
        ({"town": "Alder"}, Sureness.EXACT),
        ({}, Sureness.EXACT),
        ({"town": "Aldr"}, Sureness.EXACT),
        ({"state": "Ohio"}, Sureness.EXACT),
        ({"zip_code": "43002"}, Sureness.DIFFERS),
        ({"zip_code": "43002", "town": "Alder"}, Sureness.DIFFERS),
        ({"town": "Birch"}, Sureness.DIFFERS),
        ({"zip_code": "43001", "state": "PA"}, Sureness.DIFFERS),
    ],
)
def test_town_and_zip_code_that_contradict(tmp_path, asked, sure):
    sketch = elm(**{"addr:city": "Alder", "addr:postcode": "43001", "addr:state": "OH"})
    found = find(sketch, tmp_path, "104 Elm St", **asked)
    assert found.sure is sure
    if sure is Sureness.DIFFERS:
        assert "the map has it in" in found.found_as
        assert texts(found)[0] == "104 Elm Street, Alder, OH 43001"


def test_what_one_cell_says_contradicts_as_well(tmp_path):
    sketch = elm(**{"addr:city": "Alder", "addr:postcode": "43001", "addr:state": "Ohio"})
    assert find(sketch, tmp_path, "104 Elm St Alder OH 43001").sure is Sureness.EXACT
    assert find(sketch, tmp_path, "104 Elm St Alder OH 43001", state="OH").sure is Sureness.EXACT
    for other in ("104 Elm St Birch OH", "104 Elm St Alder OH 43009", "104 Elm St, Alder, PA"):
        assert find(sketch, tmp_path, other).sure is Sureness.DIFFERS


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
    assert found.sure is Sureness.PICK_ONE
    assert "more than one house" in found.found_as
    assert texts(found)[:2] == ["104 Elm Street, Alder", "104 Elm Street, Birch"]


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


def test_address_of_a_building_that_several_ways_draw(tmp_path):
    """Relation:multipolygon of the OpenStreetMap wiki: the relation carries the address."""
    sketch = elm()
    for name, x, y in (("p", 400, 60), ("q", 440, 60), ("r", 440, 100), ("s", 400, 100)):
        sketch.node(name, x, y)
    for name, nodes in (("one", ["p", "q", "r"]), ("two", ["r", "s", "p"])):
        sketch.ways[name] = (nodes, {"building": "part"})
    path = sketch.write(tmp_path / "town.osm")
    text, ways = path.read_text(), list(sketch.ways)
    members = "".join(
        f'<member type="way" ref="{ways.index(name) + 1}" role="outer"/>' for name in ("one", "two")
    )
    tags = {"type": "multipolygon", "addr:housenumber": "106", "addr:street": "Elm Street"}
    tagged = "".join(f'<tag k="{key}" v="{value}"/>' for key, value in tags.items())
    area = f'<relation id="9" version="1">{members}{tagged}</relation>'
    path.write_text(text.replace("</osm>", f"{area}</osm>"))
    question = Question("106 Elm St")
    found = read_address_book(path).find(question)
    assert found.sure is Sureness.EXACT
    assert feet(found.point, at(420, 80)) < 1


def test_broken_extract(tmp_path):
    path = tmp_path / "broken.osm.pbf"
    path.write_bytes(b"no road file")
    with pytest.raises(RoadError, match="cannot be read"):
        read_address_book(path)
    with pytest.raises(RoadError, match="does not exist"):
        read_address_book(tmp_path / "none.osm.pbf")


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
    return read_address_book(path), questions, middles, chosen


def test_real_addresses_are_found(queens):
    """Queens, New York (OpenStreetMap contributors, ODbL): hyphenated numbers, ordinals."""
    book, questions, middles, _ = queens
    for question, middle in zip(questions, middles, strict=True):
        found = book.find(question)
        assert found.sure is Sureness.EXACT, question
        assert feet(found.point, middle) < 400


def test_real_addresses_that_the_map_lacks_are_interpolated(queens):
    """The same houses taken out of the book: their neighbors tell where they are."""
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
