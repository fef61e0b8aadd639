"""The day's page: whole once, then the fragments that a change makes other.

Every fragment is one element with an id of its own, by which the browser puts it in the old one's
place: facts, acts, notright, outs, drafts, print, search, stall-1 ... and sheet-1 ... (trucks are
counted from 1 in the order of the tables).
"""

from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache, partial
from typing import Final

from planner.day.day import Day
from planner.day.parts import whole_ids
from planner.day.very import Very
from planner.office.day import DayState, TruckFacts
from planner.pages.not_right import late_tomorrow, not_right, out_groups
from planner.pages.sheet import sheet, stood
from planner.pages.words import Part, Ready, fill, mix_looks, signed_money
from planner.pages.yard import Stall, stalls
from planner.papers.render import duration_text
from planner.plan.model import NotDone, Plan
from planner.plan.totals import orders_out

MANY_TRUCKS: Final = 6
"""From here on a stall shows less of each truck."""

PATTERNS: Final = (
    ("m0", 5, "M0 2.5H5"),
    ("m1", 6, "M-1 1l2-2M0 6l6-6M5 7l2-2"),
    ("m2", 5, "M2.5 0V5"),
    ("m3", 6, "M3 3h.1"),
    ("m4", 6, "M0 0l6 6M0 6l6-6"),
    ("m5", 6, "M-1 5l2 2M0 0l6 6M5-1l2 2"),
    ("m6", 6, "M0 3H6M3 0V6"),
    ("m7", 4, "M1 1h.1M3 3h.1"),
)
"""Class of a mix -> side and lines of its pattern: they tell mixes apart without color."""

KEYS: Final = (
    ("↑ ↓", "stop; with one in hand: gap"),
    ("1 … 9", "truck; from the tenth on 0 and two digits"),
    ("Tab", "with one in hand: next truck that can take it"),
    ("M", "take the stop in hand: every truck answers"),
    ("Enter", "put it down"),
    ("Esc", "put it back; close what is open"),
    ("Del", "out of the day"),
    ("K", "pin to its truck, and loose again"),
    ("R", "refill before the stop"),
    ("L", "lunch before the stop"),
    ("W", "what is not in this day, and why"),
    ("G", "map wide, and narrow again"),
    ("/", "find a customer, street or order"),
    ("N", "next thing that is not right"),
    ("Z", "undo; with Shift: do it again"),
    ("P", "print"),
    ("?", "this list"),
)


def day_page(state: DayState, told: str = "") -> str:
    """The whole page. It asks for nothing but what planner/serve lists under /day and /static.
    told: stands on it until the next change."""
    day = state.planned.day
    made = {name: str(part.make()) for name, part in day_parts(state).items()}
    trucks = range(1, len(state.trucks) + 1)
    book = day.workbook
    return fill(
        "page.html",
        date=date_text(day.date),
        day_date=state.planned.plan.date,
        company=book.settings.company,
        revision=state.revision,
        many=len(state.trucks) >= MANY_TRUCKS,
        patterns=PATTERNS,
        parts={name: Ready(text) for name, text in made.items()},
        yard=[Ready(made[f"stall-{number}"]) for number in trucks],
        sheets=[Ready(made[f"sheet-{number}"]) for number in trucks],
        mixes=[(mix_id, mix.name or mix_id) for mix_id, mix in book.mixes.items()],
        looks=mix_looks(day),
        sites=list(book.sites.values()),
        keys=KEYS,
        saved=saved_text(state),
        told=told,
    )


def day_parts(state: DayState) -> dict[str, Part]:
    """Id of an element -> how it is made, and what it is made from."""
    made = _small_parts(state)
    opened = Very(state.opened)
    gone: dict[str, list[str]] = {truck.truck_id: [] for truck in state.trucks}
    for order_id, (truck_id, _) in stood(state.opened).items():
        gone.setdefault(truck_id, []).append(state.truck_of.get(order_id, ""))
    unplanned = all(truck.home_min is None for truck in state.trucks)
    for number, facts in enumerate(state.trucks, start=1):
        now = tuple(gone[facts.truck_id])
        wanted = _SheetFrom(number, facts.version, opened, now, unplanned, state)
        made[f"sheet-{number}"] = _sheet(wanted)
    # The text itself is the key: what is worked out anew and looks the same is not sent again.
    return {name: Part(text, partial(str, text)) for name, text in made.items()}


def search_parts(state: DayState) -> dict[str, str]:
    """The elements that follow planning the rest again: its panel, and the buttons of the head."""
    yard = stalls(state)
    shared = _shared(state, yard)
    return {"search": _search_panel(state, shared), "acts": _acts(state, shared)}


@dataclass(frozen=True)
class _SheetFrom:
    """What a sheet is made from. gone: where its earlier orders are now; unplanned: no truck goes
    out."""

    number: int
    version: int
    opened: Very[Plan]
    gone: tuple[str, ...]
    unplanned: bool
    state: DayState = field(compare=False)


@lru_cache(maxsize=512)
def _sheet(wanted: _SheetFrom) -> str:
    state, number = wanted.state, wanted.number
    made = sheet(state, state.trucks[number - 1], number, stood(state.opened))
    return fill(
        "sheet.html",
        s=made,
        unplanned=wanted.unplanned,
        day_date=state.planned.plan.date,
        currency=state.planned.day.workbook.settings.currency,
        shift=_shift(made.facts, made.truck.shift_end_min - made.truck.closing_min),
        width=5 + len(made.columns) + made.moved,
    )


def _shift(facts: TruckFacts, end_min: float) -> str:
    if facts.home_min is None:
        return "no stop"
    early = end_min - facts.home_min
    words = "before its shift ends" if early >= 0 else "past the end of its shift"
    return f"{duration_text(abs(early))} {words}"


def _small_parts(state: DayState) -> dict[str, str]:
    settings = state.planned.day.workbook.settings
    yard = stalls(state)
    shared = _shared(state, yard)
    line, plan = not_right(state, yard), state.planned.plan
    change = state.cost - state.opened.totals.totals.cost if stood(state.opened) else 0.0
    made = {
        "facts": fill(
            "facts.html",
            **shared,
            date=date_text(state.planned.day.date),
            change=signed_money(change, settings.currency),
            totals=plan.totals.totals,
            last=next((stall for stall in yard if stall.home and stall.facts.last), None),
        ),
        "acts": _acts(state, shared),
        "notright": fill("not_right.html", n=line),
        "outs": _outs(_OutsFrom(plan.unserved, plan.held, Very(state.planned.day), state)),
        "drafts": fill("drafts.html", **shared),
        "print": fill("print.html", **shared, broken=len(line.broken)),
        "search": _search_panel(state, shared),
    }
    down = plan.again.down if plan.again is not None else ()
    for stall in yard:
        is_down = stall.truck.truck_id in down
        made[f"stall-{stall.number}"] = _stall(Very(stall), is_down)
    return made


def _shared(state: DayState, yard: tuple[Stall, ...]) -> dict[str, object]:
    currency = state.planned.day.workbook.settings.currency
    out = [stall for stall in yard if stall.home]
    day_date = state.planned.plan.date
    return {"state": state, "currency": currency, "out": out, "day_date": day_date}


def _acts(state: DayState, shared: dict[str, object]) -> str:
    out = sum(truck.home_min is not None for truck in state.trucks)
    search = _search_words(state, "Plan the rest" if out else "Plan the day")
    return fill("acts.html", **shared, print=_print_words(state, out), search=search)


def _search_panel(state: DayState, shared: dict[str, object]) -> str:
    currency = state.planned.day.workbook.settings.currency
    prices = {
        offer.number: signed_money(offer.cost_change, currency) for offer in state.searching.offers
    }
    stale = state.searching.offers[-1:] and state.searching.offers[-1].revision != state.revision
    plan, orders = state.planned.plan, state.planned.day.workbook.orders
    later = len(whole_ids(orders, plan.laid_later))
    return fill("search.html", **shared, prices=prices, stale=stale, later=later)


@dataclass(frozen=True)
class _OutsFrom:
    """What the list of what is out is made from."""

    unserved: tuple[NotDone, ...]
    held: tuple[NotDone, ...]
    day: Very[Day]
    state: DayState = field(compare=False)


@lru_cache(maxsize=64)
def _outs(wanted: _OutsFrom) -> str:
    state = wanted.state
    plan, day = state.planned.plan, state.planned.day
    return fill(
        "outs.html",
        out=orders_out(plan, day.orders),
        overdue=len(plan.overdue),
        tomorrow=late_tomorrow(plan, day),
        groups=out_groups(state),
    )


@lru_cache(maxsize=2048)
def _stall(stall: Very[Stall], down: bool) -> str:
    return fill("stall.html", s=stall.value, down=down)


def _print_words(state: DayState, out: int) -> str:
    printed = state.printed
    if printed.never and out > 1:
        return f"Print all {out}…"
    if printed.never or not printed.again:
        return "Print…"
    names = printed.again
    some = ", ".join(names) if len(names) <= 3 else f"{len(names)} packets"
    return f"Print {some} again…"


def _search_words(state: DayState, idle: str) -> str:
    now = state.searching
    if now.running:
        return f"Planning… {now.share * 100:.0f} %"
    best = next((row for row in reversed(now.offers) if row.revision == state.revision), None)
    if best is None:
        return idle
    currency = state.planned.day.workbook.settings.currency
    return f"Better plan: {signed_money(best.cost_change, currency) or 'same cost'}"


def saved_text(state: DayState) -> str:
    """Where the table stands, for the foot of the page."""
    return f"saved · change {state.revision}"


def date_text(day: date) -> str:
    """`Wednesday, April 14`."""
    return f"{day:%A, %B} {day.day}"
