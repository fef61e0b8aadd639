"""Which orders belong to which compared day, what a day depends on, what its plan tells."""

from __future__ import annotations

import csv
import datetime as dt
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from planner.chain import open_day
from planner.cli.main import main
from planner.compare.compare import Prepared, Request, compare, prepare, wanted_of
from planner.compare.days import season_of_orders
from planner.compare.files import comparison_files
from planner.compare.fleets import read_fleets
from planner.compare.model import DayResult
from planner.compare.page import fleets_page
from planner.compare.run import KeptResults, planning_version
from planner.compare.tasks import day_result, key_of
from planner.day.clock import DateSpan
from planner.day.day import Day, Workbook
from planner.day.orders import Status
from planner.kept_home import calendar_path
from planner.plan.audit.rules_day import DueToday
from planner.plan.model import Fill, Plan
from planner.weeks.model import CALENDAR_VERSION, Calendar, CalendarError, write_calendar
from tests.days import home, order, small_day, workbook
from tests.hand_plan import hand_day, hand_plan
from tests.own_cache import cache_with_machine_code
from tests.seasons import FIRST, ORDERS, edit, fleet_folder, season_folder

EVER = (dt.date(2027, 1, 1), dt.date(2027, 12, 31))


def book_of(*spans: tuple[str, int, int, float]) -> Workbook:
    """Orders of a small workbook: name, first and last day of April, lawn."""
    base = small_day().workbook
    homes = [home(f"H-{name}", 40.01, -83.0, lawn) for name, _, _, lawn in spans]
    orders = tuple(
        order(
            name,
            at,
            "WEED",
            due_from=dt.date(2027, 4, first),
            due_to=dt.date(2027, 4, last),
        )
        for at, (name, first, last, _) in zip(homes, spans, strict=True)
    )
    return workbook(
        sites=tuple(base.sites.values()),
        trucks=tuple(base.trucks.values()),
        products=tuple(base.products.values()),
        mixes=tuple(base.mixes.values()),
        properties=tuple(homes),
        orders=orders,
    )


def laid(book: Workbook) -> dict[str, list[str]]:
    season = season_of_orders(book, *EVER)
    return {day.date.isoformat()[5:]: list(day.orders) for day in season.days}


def test_a_due_span_goes_to_the_office_day_with_the_least_lawn() -> None:
    """April 12, 2027 is a Monday. Dated: 12th 9,000 ft2, 13th 5,000, 14th 7,000. X (due to the
    14th) takes the 13th, which then has 9,000; Y the 14th (11,000); Z the 12th, the first of two
    with 9,000. The 15th is no day of the office."""
    book = book_of(
        ("A", 12, 12, 9000.0),
        ("B", 13, 13, 5000.0),
        ("C", 14, 14, 7000.0),
        ("Z", 12, 20, 100.0),
        ("X", 12, 14, 4000.0),
        ("Y", 12, 15, 4000.0),
    )
    assert laid(book) == {"04-12": ["A", "Z"], "04-13": ["B", "X"], "04-14": ["C", "Y"]}


def test_without_dated_orders_work_is_done_from_monday_to_friday() -> None:
    book = book_of(("A", 16, 19, 1000.0), ("B", 16, 19, 1000.0), ("C", 16, 19, 1000.0))
    assert laid(book) == {"04-16": ["A", "C"], "04-19": ["B"]}
    assert list(laid(book_of(("A", 17, 18, 1000.0)))) == ["04-17"], "a weekend, if it must be"


def test_a_few_dated_orders_are_not_the_days_on_which_the_office_works() -> None:
    """One of four orders has a date: a week's work had been laid on that day. Thursday is a holiday
    here."""
    book = book_of(
        ("A", 13, 13, 1000.0), ("B", 12, 16, 900.0), ("C", 12, 16, 900.0), ("D", 12, 16, 900.0)
    )
    off = DateSpan(dt.date(2027, 4, 15), dt.date(2027, 4, 15))
    book = replace(book, settings=replace(book.settings, holidays=(off,)))
    assert laid(book) == {"04-12": ["B"], "04-13": ["A"], "04-14": ["C"], "04-16": ["D"]}


def test_only_days_of_the_span_asked_for() -> None:
    book = book_of(("A", 12, 12, 9000.0), ("B", 13, 13, 5000.0), ("C", 14, 14, 7000.0))
    season = season_of_orders(book, dt.date(2027, 4, 13), dt.date(2027, 4, 13))
    assert [list(day.orders) for day in season.days] == [["B"]]


def test_what_office_or_customer_keeps_out_is_no_day_s_order(tmp_path: Path) -> None:
    """Rule 30, counted on the fingers: April 13, 2027 is a Tuesday. An order on hold had ended the
    comparison as a bug of the planner."""
    book = book_of(
        ("A", 12, 12, 9000.0),
        ("B", 12, 14, 4000.0),
        ("C", 12, 14, 4000.0),
        ("D", 12, 14, 4000.0),
        ("E", 12, 14, 4000.0),
        ("F", 13, 13, 4000.0),
        ("G", 14, 14, 4000.0),
    )
    tuesday, away = dt.date(2027, 4, 13), DateSpan(dt.date(2027, 4, 12), dt.date(2027, 4, 13))
    orders = book.orders | {
        "B": replace(book.orders["B"], status=Status.ON_HOLD, status_reason="waits"),
        "C": replace(book.orders["C"], status=Status.CANCELLED),
        "F": replace(book.orders["F"], repeats="A"),
        "G": replace(book.orders["G"], status=Status.ON_HOLD, hold_until=tuesday),
    }
    homes = dict(book.properties)
    for name, changes in (
        ("D", {"serve_on": (1,)}),
        ("E", {"skip_dates": (away,), "hold_until": tuesday, "hold_reason": "account"}),
    ):
        home = book.orders[name].property_id
        homes[home] = replace(homes[home], **changes)
    book = replace(book, orders=orders, properties=homes)
    season = season_of_orders(book, *EVER)
    assert {day.date.day: list(day.orders) for day in season.days} == {
        12: ["A"], 13: ["D", "F"], 14: ["E", "G"],
    }  # fmt: skip
    (note,) = season.notes
    assert note.startswith("2 orders left out")
    assert note.endswith(": B, C")
    for day in season.days:
        assert DueToday(day).due == set(day.orders)


@pytest.fixture
def prepared(tmp_path: Path) -> Prepared:
    folder = season_folder(tmp_path / "office")
    return prepare(Request(folder, engine="nearest-fit", count=1, seeds=1))


def keys(prepared: Prepared) -> list[str]:
    return [key_of(one, prepared.ways.identity, "1") for one in wanted_of(prepared)]


def again(prepared: Prepared) -> list[str]:
    return keys(prepare(prepared.request))


def test_a_key_changes_with_what_a_day_depends_on_and_with_nothing_else(
    prepared: Prepared,
) -> None:
    folder, before = prepared.request.workbook, keys(prepared)
    assert again(prepared) == before
    # Of another day, or of nobody's plan: an order's note, a customer without an order that day.
    edit(folder / "orders.csv", "21,P-4,spring-feed,2027-05-04,,,,,2,,,",
         "21,P-4,spring-feed,2027-05-04,,,20000,,2,,,")  # fmt: skip
    after = again(prepared)
    assert [one == other for one, other in zip(before, after, strict=True)] == [True, False, True]
    edit(folder / "trucks.csv", "Big truck,yard,yes,7:15 AM", "Big truck,yard,yes,7:00 AM")
    assert all(one != other for one, other in zip(after, again(prepared), strict=True))


def test_sets_have_one_text_in_every_process(prepared: Prepared) -> None:
    """Names of a set come in another order in every process; the key must not."""
    first = wanted_of(prepared)
    one = next(iter(first))
    orders = {
        name: replace(row, never_trucks=frozenset({"truck-1", "truck-2", "x", "y", "z"}))
        for name, row in one.day.orders.items()
    }
    other = {
        name: replace(row, never_trucks=frozenset(["z", "y", "x", "truck-2", "truck-1"]))
        for name, row in one.day.orders.items()
    }
    keys = [
        key_of(replace(one, day=replace(one.day, orders=some)), "", "") for some in (orders, other)
    ]
    assert keys[0] == keys[1]


def test_every_day_begins_clean_and_pins_to_absent_trucks_are_free(tmp_path: Path) -> None:
    folder = season_folder(tmp_path / "office")
    edit(folder / "orders.csv", "11,P-1,spring-feed,2027-05-03,,,,,2,,,",
         "11,P-1,spring-feed,2027-05-03,,,,,2,truck-2,truck-1,")  # fmt: skip
    prepared = prepare(Request(folder, seeds=1, sweeps=("trucks=1",)))
    both, one = [
        wanted.day.orders["11"] for wanted in wanted_of(prepared) if wanted.day.date == FIRST
    ]
    assert both.only_trucks == {"truck-2"}
    assert one.only_trucks is None
    assert one.never_trucks == {"truck-1"}
    for wanted in wanted_of(prepared):
        for truck in wanted.day.workbook.trucks.values():
            assert all((t.last_mix, t.leftover_gal) == (None, 0.0) for t in truck.compartments)


@pytest.fixture
def with_papers(tmp_path: Path) -> Request:
    """Truck-1 is in the shop on the first two days, truck-2 too on the second. Sam has Ohio's
    category 6a, which is no turf (row OH-turf of planner/rules/licenses.csv), and papers that have
    run out."""
    folder = season_folder(tmp_path / "office")
    shop = {"truck-1": "2027-05-03 to 2027-05-04", "truck-2": "2027-05-04"}
    head, *rows = (folder / "trucks.csv").read_text(encoding="utf-8").splitlines()
    table = [f"{head},out_on", *(f"{row},{shop.get(row.split(',')[0], '')}" for row in rows)]
    (folder / "trucks.csv").write_text("\n".join(table) + "\n", encoding="utf-8")
    edit(folder / "applicators.csv", "CA-0002,turf,2028-05-02,2028", "CA-0002,6a,2027-01-01,2027")
    one = fleet_folder(folder, tmp_path / "small", ("truck-2",))
    # The same vehicle, of which this folder does not say that it is in the shop.
    edit(one / "trucks.csv", ",2027-05-04", ",")
    return Request(folder, folders={"small": one}, engine="nearest-fit", count=1, seeds=1)


def test_days_are_planned_with_the_trucks_and_people_that_a_plan_has(with_papers: Request) -> None:
    """As `planner plan` has them, but that a license which ran out counts as renewed."""
    folder = with_papers.workbook
    edit(folder / "applicators.csv", "6a,2027-01-01,2027", "6a,2028-01-01,2028")
    for wanted in wanted_of(prepare(with_papers)):
        if wanted.fleet != "present":
            continue
        day = open_day(folder, wanted.day.date)
        assert wanted.day.barred == day.barred
        assert list(wanted.day.workbook.trucks) == list(day.workbook.trucks)
        for name, one in wanted.day.orders.items():
            like = day.orders[name]
            assert (one.never_trucks, one.license_only) == (like.never_trucks, like.license_only)


def test_what_a_fleets_crew_may_not_spray_is_left_out(with_papers: Request) -> None:
    """A rule that holds an order for one fleet alone is no rule of the day: with fewer orders done
    it would be the cheaper fleet."""
    found = compare(prepare(with_papers), silent, jobs=1)
    present, small = found.fleets
    assert [len(day.left_out) for day in present.days] == [4, 3, 0]
    assert [len(day.left_out) for day in small.days] == [4, 3, 4]
    assert not any(day.held or day.fault for one in found.fleets for day in one.days)
    assert small.days[1].trucks == present.days[1].trucks == ()
    assert [[row.truck_id for row in day.trucks if row.is_out] for day in present.days] == [
        [],
        [],
        ["truck-1"],
    ]
    assert found.verdict[0].startswith("Don't change to small: it leaves orders out on 1 of 3")
    edit(with_papers.workbook / "applicators.csv", ",6a,", ",turf,")
    small = compare(prepare(with_papers), silent, jobs=1).fleets[1]
    assert [len(day.left_out) for day in small.days] == [0, 3, 0], "the papers count as renewed"


def test_a_calendars_days_know_shop_and_licenses_too(with_papers: Request, tmp_path: Path) -> None:
    """On the first day nobody may do anything, on the second no truck is there: the third does it
    all. What no crew of a fleet may spray is left out by it and not held for all."""
    with_calendar(with_papers.workbook, 3)
    found = compare(prepare(replace(with_papers, source="calendar", count=20)), silent, jobs=1)
    present, small = found.fleets
    assert [day.totals.orders for day in present.days] == [0, 0, 11]
    assert [day.totals.orders for day in small.days] == [0, 0, 0]
    assert [one.without_day for one in found.fleets] == [0, 11]
    assert not any("held back" in note for note in found.notes)
    edit(with_papers.workbook / "trucks.csv", ",2027-05-04\n", ",2027-05-03 to 2027-05-05\n")
    with pytest.raises(CalendarError, match="fleet small has no truck on any of the days"):
        compare(prepare(replace(with_papers, source="calendar", count=20)), silent, jobs=1)


def test_a_copy_of_a_truck_is_not_in_the_shop_with_it(with_papers: Request) -> None:
    (wanted, *_) = [
        one
        for one in wanted_of(prepare(replace(with_papers, sweeps=("trucks=3",))))
        if one.fleet == "trucks=3"
    ]
    assert list(wanted.day.workbook.trucks) == ["truck-2", "truck-1+1"]


def test_what_the_store_holds_today_limits_no_day(tmp_path: Path) -> None:
    folder = season_folder(tmp_path / "office")
    text = (folder / "products.csv").read_text(encoding="utf-8").splitlines()
    rows = [
        f"{row},{'in_store' if at == 0 else '0 gal' if 'liquid' in row else ''}"
        for at, row in enumerate(text)
    ]
    (folder / "products.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    assert any(row.in_store is not None for row in read_fleets(folder, {})[0].products.values())
    prepared = prepare(Request(folder, seeds=1))
    for day in prepared.season.days:
        assert all(row.in_store is None for row in day.workbook.products.values())


def test_the_planning_version_is_one_of_the_sources() -> None:
    assert planning_version() == planning_version()
    assert len(planning_version()) == 64


def planned_by_hand() -> tuple[Day, Plan]:
    return hand_day(), hand_plan()


def test_figures_of_the_hand_worked_plan() -> None:
    day, plan = planned_by_hand()
    result = day_result("present", day, plan)
    assert result.totals == plan.totals.totals
    for row, truck in zip(result.trucks, plan.trucks, strict=True):
        filled = sum(fill.gal for stop in truck.stops for fill in stop.fills)
        cleaned = {entry.compartment_id for entry in truck.cleaning}
        start = sum(
            tank.leftover_gal
            for tank in day.workbook.trucks[row.truck_id].compartments
            if tank.compartment_id not in cleaned
        )
        assert sum(tank.filled_gal for tank in row.tanks) == pytest.approx(filled)
        # What goes in and does not come out is still there.
        used = sum(tank.used_gal for tank in row.tanks)
        assert start + filled - used == pytest.approx(sum(tank.left_gal for tank in row.tanks))
        empty_lb = day.workbook.trucks[row.truck_id].empty_weight_lb
        loads_lb = [stop.weight_lb_after for stop in truck.stops]
        assert row.heaviest_lb == max(loads_lb, default=empty_lb)


def refilled(full: bool) -> DayResult:
    """The hand-worked plan with one compartment filled at two stops, the first time to the full
    mark or a gallon below it."""
    day, plan = planned_by_hand()
    (row, *_) = plan.trucks
    tank = day.workbook.trucks[row.truck_id].compartments[0]
    level = tank.capacity_gal - (0.0 if full else 1.0)
    fill = Fill(tank.compartment_id, "WEED", 10.0, 9.9, level - 10.0, level, 84.0, (), (), 9.9, ())
    stops = tuple(
        replace(stop, fills=(fill,) if at < 2 else ()) for at, stop in enumerate(row.stops)
    )
    return day_result("present", day, replace(plan, trucks=(replace(row, stops=stops),)))


def test_a_compartment_binds_when_it_was_full_and_is_filled_again() -> None:
    assert refilled(full=True).trucks[0].tanks[0].bound == 1
    assert refilled(full=False).trucks[0].tanks[0].bound == 0


def test_a_day_that_the_roads_do_not_allow_is_named(tmp_path: Path) -> None:
    """A table of times without the rows of one customer: her days cannot be planned, others can."""
    folder = season_folder(tmp_path / "office")
    book = read_fleets(folder, {})[0]
    places = [*book.sites, *book.properties]
    with (folder / "times.txt").open("w", encoding="utf-8", newline="") as file:
        out = csv.writer(file)
        out.writerow(["from", "to", "minutes", "miles"])
        out.writerows(
            [a, b, 5, 2] for a in places for b in places if a != b and "P-4" not in (a, b)
        )
    (folder / "times.txt").rename(tmp_path / "times.csv")
    (folder / "planner.toml").write_text('roads = "../times.csv"\n', encoding="utf-8")
    prepared = prepare(
        Request(folder, engine="nearest-fit", count=1, seeds=1, sweeps=("trucks=1",))
    )
    found = compare(
        prepared, lambda _done, _before, _all: None, jobs=1, kept=KeptResults(tmp_path / "kept")
    )
    for fleet in found.fleets:
        assert fleet.fault_dates == ("2027-05-04",)
        assert "P-4" in fleet.days[1].fault
    against = found.fleet("trucks=1").against_present
    assert against is not None
    assert against.dates == ("2027-05-03", "2027-05-05")
    assert "P-4" in against.other_days[0].fault


def with_calendar(folder: Path, days: int) -> None:
    """A calendar that stands, of which a comparison takes the working days alone."""
    names = tuple(str(FIRST + dt.timedelta(days=at)) for at in range(days))
    calendar = Calendar(
        CALENDAR_VERSION, "", names, {}, (), (), (), (), (), {}, 0.0, 1.0, 1.0, "search", "", 1,
        "", "", rain_given=0.0,
    )  # fmt: skip
    write_calendar(calendar_path(folder), calendar)


@pytest.fixture
def two_sizes(tmp_path: Path) -> Request:
    """Six lawns, four of them due on the first day, and two fleets: the starter's, and one truck
    with tanks of 15 gallons and a shift of an hour, which has time for two lawns."""
    folder = season_folder(tmp_path / "office")
    rows = [
        f"{at},P-{at},{'spring-feed' if at in (4, 5) else 'weeds'},,{FIRST},"
        f"{FIRST + dt.timedelta(days=0 if at < 5 else 2)},2000,,2,,,\n"
        for at in range(1, 7)
    ]
    (folder / "orders.csv").write_text(ORDERS + "".join(rows), encoding="utf-8")
    with_calendar(folder, 3)
    small = fleet_folder(folder, tmp_path / "small", ("truck-2",))
    edit(small / "compartments.csv", "truck-2,front,150,", "truck-2,front,15,")
    edit(small / "compartments.csv", "truck-2,rear,100,", "truck-2,rear,15,")
    edit(small / "trucks.csv", "4:30 PM,60,30,11:30 AM,1:30 PM", "8:20 AM,0,0,11:30 AM,1:30 PM")
    return Request(
        folder, folders={"small": small}, source="calendar", engine="nearest-fit", count=20, seeds=1
    )


def silent(*_: object) -> None:
    """No progress."""


def test_each_fleet_works_the_days_of_its_own_calendar(two_sizes: Request, tmp_path: Path) -> None:
    """The starter's trucks do everything on the first day; the small one does two lawns a day, two
    of the four that are due on the first day too late. Broken off after the first calendar, the
    comparison goes on with the second."""
    kept = KeptResults(tmp_path / "kept")
    said: list[str] = []

    def breaks_off(text: str) -> None:
        if text == "1 of 2 calendars laid":
            raise KeyboardInterrupt

    prepared = prepare(two_sizes)
    with pytest.raises(KeyboardInterrupt):
        compare(prepared, silent, jobs=1, kept=kept, laying=breaks_off)
    found = compare(prepared, silent, jobs=1, kept=kept, laying=said.append)
    assert said == ["1 of 2 calendars laid", "2 of 2 calendars laid"]
    present, small = found.fleets
    assert [day.totals.orders for day in present.days] == [6, 0, 0]
    assert [day.totals.orders for day in small.days] == [2, 2, 2]
    assert [(one.late_orders, one.without_day) for one in found.fleets] == [(0, 0), (2, 0)]
    assert (present.unserved_dates, small.unserved_dates) == ((), ())
    cost = [sum(day.totals.cost for day in one.days) for one in found.fleets]
    assert small.against_present is not None
    assert small.against_present.figures["cost"].mean == pytest.approx((cost[1] - cost[0]) / 3)
    again = compare(prepare(two_sizes), silent, jobs=1, kept=kept, laying=said.append)
    assert again == found
    assert said[2:] == ["2 of 2 calendars laid"]


def test_being_late_costs_what_the_calendar_reckons_with(two_sizes: Request) -> None:
    """Two of four orders a day late or two: 0.8 + 0.2 x days of their worth (rule 31), by hand; dry
    days, so that there is no chance of it. Without its price the small fleet is the cheapest."""
    trucks = two_sizes.workbook / "trucks.csv"
    edit(trucks, ",14500,60", ",14500,260")
    for folder, days in (
        (two_sizes.workbook, "working_days = 100\n"),
        (trucks.parents[1] / "small", ""),
    ):
        told = f"{days}[each_truck]\npurchase = 800\nlife_years = 8\nyearly_fixed = 0\n"
        (folder / "fleet.toml").write_text(told, encoding="utf-8")
    found = compare(prepare(two_sizes), silent, jobs=1)
    present, small = found.fleets
    worth = prepare(two_sizes).book.settings.unserved_price(2)
    price = sum(day.late_cost for day in small.days)
    late = [day.late_cost / worth / (0.8 + 0.2 * at) for at, day in enumerate(small.days)]
    assert sum(late) == pytest.approx(2)
    assert late == pytest.approx([round(number) for number in late]), "so many a day"
    assert (present.late_cost, small.late_cost) == (0.0, pytest.approx(price / 3))
    assert small.against_present is not None
    cash = small.against_present.figures["cost"].mean
    more = small.against_present.more_a_day
    assert cash < 0 < more
    assert more == pytest.approx(cash + price / 3)
    assert small.money.yearly_saving == pytest.approx(-more * 100), "not the one that saves"
    assert [one.rank for one in found.fleets] == [1, 2]
    assert found.verdict[0].startswith("Don't change to small: ")
    words = f"small does 2 orders late, the present trucks 0, priced at ${price / 3:,.0f} a day"
    assert words in " ".join(found.verdict)
    assert "Price of being late, a day" in fleets_page(found)
    (_, row) = csv.DictReader(comparison_files(found)["fleets.csv"].splitlines())
    assert float(row["late_cost_per_day"]) == pytest.approx(price / 3, abs=0.01)


def test_an_order_without_a_day_counts_as_left_out(two_sizes: Request) -> None:
    found = compare(prepare(replace(two_sizes, last=FIRST + dt.timedelta(days=1))), silent, jobs=1)
    present, small = found.fleets
    assert [one.without_day for one in found.fleets] == [0, 2]
    assert [len(day.left_out) for day in small.days] == [2, 0]
    assert small.unserved_dates == (str(FIRST),)
    assert small.against_present is not None
    assert small.against_present.figures == {}, "less work is no saving"
    assert found.verdict[0].startswith("Don't change to small: it leaves orders out on 1 of 2")
    files = comparison_files(found)
    rows = list(csv.DictReader(files["fleets.csv"].splitlines()))
    assert [(row["late_orders"], row["orders_without_a_day"]) for row in rows] == [
        ("0", "0"),
        ("0", "2"),
    ]
    assert "Orders without a day" in fleets_page(found)
    assert present.money.gain == 0.0


def test_what_every_fleet_leaves_for_after_the_end_is_not_left_out(two_sizes: Request) -> None:
    """The label keeps two feeds of one lawn three weeks apart, and the second has eight: it comes
    after the three days with every fleet. Due within them, it is an order that no fleet does."""
    folder = two_sizes.workbook
    orders = folder / "orders.csv"
    edit(folder / "mixes.csv", "edges,", "late-feed,Feed alone,2,no,\nedges,")
    rate = "late-feed,liquid-n,0.75 lb N/1000 sq ft,\nedges,knockdown"
    edit(folder / "mix_products.csv", "edges,knockdown", rate)
    text = orders.read_text(encoding="utf-8")
    for until, left, words in (
        ("2027-06-30", 0, "serves every day"),
        ("2027-05-05", 1, "serves every day but for 1 order that no fleet does"),
    ):
        row = f"7,P-5,late-feed,,{FIRST},{until},,,2,,,\n"
        orders.write_text(text + row, encoding="utf-8")
        found = compare(prepare(two_sizes), silent, jobs=1)
        for fleet in found.fleets:
            assert (fleet.without_day, fleet.stats["unserved"].total) == (left, left)
            assert fleet.unserved_dates == ()
        assert found.fleets[0].rank_words == words
        said = "1 open order left for after the last day with every fleet, in time then: 7"
        assert (said in found.notes) == (left == 0)


def test_a_comparison_of_calendars_needs_days_and_an_engine_that_lays_them(tmp_path: Path) -> None:
    request = Request(season_folder(tmp_path / "office"), source="calendar")
    with pytest.raises(CalendarError, match="run `planner weeks` first"):
        prepare(request)
    with pytest.raises(CalendarError, match="lays no calendars"):
        prepare(replace(request, engine="ortools"))


def test_days_as_they_were_recorded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PLANNER_CACHE_DIR", cache_with_machine_code(tmp_path / "cache"))
    folder = season_folder(tmp_path / "office")

    def planner(*words: object) -> None:
        result = CliRunner().invoke(main, [str(word) for word in words])
        assert result.exit_code == 0, result.output

    for day in (3, 5):
        out = tmp_path / f"day{day}"
        date = f"2027-05-0{day}"
        planner("plan", folder, "--date", date, "--out", out, "--engine", "nearest-fit")
        weather = ("--wind", 4, "--wind-from", "SW", "--temperature", 61)
        planner("record", folder, out / "plan.json", "--as-planned", *weather)
    prepared = prepare(Request(folder, source="records"))
    assert [day.date.isoformat() for day in prepared.season.days] == ["2027-05-03", "2027-05-05"]
    first, second = prepared.season.days
    assert list(first.orders) == ["11", "12", "13", "14"]
    assert first.workbook.history == ()
    # The day between was never planned: its orders, P-2's too, were overdue and done on the fifth.
    assert {row.property_id for row in second.workbook.history} == {"P-1", "P-2", "P-3", "P-6"}
    assert all(order.due_from == order.due_to == day.date for day in prepared.season.days
               for order in day.orders.values())  # fmt: skip
