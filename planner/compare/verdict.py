"""What an owner may do with a comparison: change over, keep, or find out more; its figures in
words."""

from collections.abc import Iterator, Sequence
from datetime import date
from enum import IntEnum

from planner.compare.model import Comparison, FleetResult, Paired
from planner.problems import counted

NONE_TEXT = "–"
"""Stands where there is no figure."""

MINUS = "−"


def money(value: float, currency: str) -> str:
    """Whole money with a sign in front of the currency: `−$97`."""
    sign = MINUS if round(value) < 0 else ""
    return f"{sign}{currency}{abs(value):,.0f}"


def cents(value: float | None, currency: str) -> str:
    """Money with cents, for prices of one order or of 1,000 sq ft."""
    return NONE_TEXT if value is None else f"{currency}{value:,.2f}"


def number(value: float, places: int = 0) -> str:
    """A figure with that many decimals and a real minus sign, without a negative zero."""
    text = f"{abs(value):,.{places}f}"
    return MINUS + text if value < 0 and float(text.replace(",", "")) else text


def signed(value: float, places: int = 0) -> str:
    """A difference, always with its sign unless it is zero."""
    text = number(value, places)
    return text if text.startswith(MINUS) or not float(text.replace(",", "")) else f"+{text}"


def paired_text(name: str, pair: Paired, currency: str) -> str:
    """A difference with the planner's own spread: `−$97 ± 24`. name: of FIGURES."""
    spread = "spread not measured"
    places = 0 if name == "cost" or name.endswith("_min") else 1
    if pair.spread is not None:
        spread = f"± {number(pair.spread, places)}"
    value = signed(pair.mean, places)
    if name == "cost":
        value = value[:1] + currency + value[1:] if value[0] in f"+{MINUS}" else currency + value
    return f"{value} {spread}"


def short_date(day: str) -> str:
    """A day of the comparison as `Mar 22`."""
    when = date.fromisoformat(day)
    return f"{when:%b} {when.day}"


def span_text(dates: Sequence[str]) -> str:
    """The first and the last day and how many there are."""
    if not dates:
        return "no day"
    first, last = (date.fromisoformat(day) for day in (dates[0], dates[-1]))
    days = f"{len(dates)} day" + ("s" if len(dates) != 1 else "")
    if first == last:
        return f"{days}, {first:%b} {first.day}, {first.year}"
    year = "" if first.year == last.year else f", {first.year}"
    return f"{days}, {first:%b} {first.day}{year} to {last:%b} {last.day}, {last.year}"


def sentence(words: str) -> str:
    """The words with a capital at the start and a full stop at the end."""
    text = words.strip().rstrip(".")
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def years_text(value: float | None) -> str:
    """Years to a tenth; 0 means that there is nothing to pay back."""
    if value is None:
        return NONE_TEXT
    return "at once" if value == 0 else f"{number(value, 1)} years"


def spread_words(comparison: Comparison) -> str:
    """What a tie means on this page."""
    spread = comparison.spread
    if spread is None:
        return (
            "Solver variation was not measured, so small differences may be chance: the page "
            "cannot say which of them are ties."
        )
    deviation = spread.standard_deviation.get("cost")
    cost = (
        ""
        if deviation is None
        else f" (standard deviation of one plan's cost {money(deviation, comparison.currency)})"
    )
    return (
        f"Tie: the difference is not larger than the planner's own spread, found by planning "
        f"{len(spread.sample)} of the days with {len(spread.seeds)} seeds each{cost}. Weather and "
        f"customers of other years are not in it."
    )


LICENSE_TIERS = ("license group B", "tank vehicle")
"""Of the published thresholds, those that change who may drive."""
DAYS_OF_A_YEAR = 366
LEAST = 0.5
"""Money that shows."""


class Answer(IntEnum):
    """What may be done, the one that matters most first."""

    DO = 0
    CANNOT_TELL = 1
    KEEP = 2


def answer_of(fleet: FleetResult, present: FleetResult) -> Answer:
    """What the figures say to changing over from the present fleet."""
    gain, own = fleet.money.gain, fleet.money.scatter or 0.0
    better, worse = (
        len(one.bad_dates) < len(other.bad_dates)
        for one, other in ((fleet, present), (present, fleet))
    )
    if gain is None:
        paired = fleet.against_present and fleet.against_present.figures.get("cost")
        dearer = paired and _saved_a_day(fleet) < -max(LEAST, paired.spread or 0.0)
        return Answer.KEEP if worse or (dearer and not better) else Answer.CANNOT_TELL
    if worse:
        return Answer.KEEP
    if _shares_place(fleet, present):
        return Answer.CANNOT_TELL
    if gain < -own and not better:
        return Answer.KEEP
    return Answer.DO if gain > own else Answer.CANNOT_TELL


def _shares_place(fleet: FleetResult, present: FleetResult) -> bool:
    """Whether the ranking calls it a tie with the present trucks: the verdict says the same."""
    return fleet.rank is not None and fleet.rank == present.rank


def verdict_lines(comparison: Comparison) -> tuple[str, ...]:
    """The verdict: first a line that can be acted on, then what it rests on and what would turn
    it, then the other fleets. Raises ValueError without a fleet."""
    present, *others = comparison.fleets
    if not others:
        return ("Nothing to decide: only the present trucks were planned. Add --fleet or --sweep.",)
    order = {
        one.name: (answer_of(one, present), one.rank is None, one.rank or 0, -_saved_a_day(one))
        for one in others
    }
    first, *rest = sorted(others, key=lambda one: order[one.name])
    currency = comparison.currency
    lines = []
    if rest and order[first.name][0] is Answer.KEEP:
        lines.append(f"Keep the present trucks: none of the {len(others)} other fleets pays.")
    lines.append(_line(first, present, currency))
    lines += _turns(first, present, currency)
    lines += [_line(one, present, currency) for one in rest]
    lines += [text for one in (first, *rest) for text in _late(one, present, currency)]
    percent = f"{present.money.interest_percent:g} %"
    lines.append(
        f"Interest {percent} a year, {number(present.money.working_days)} working days."
        if present.money.working_days
        else "No fleet.toml beside the present tables states working_days and prices."
    )
    if comparison.spread is None:
        lines.append("Chance was not measured (--seeds): a small difference may be none.")
    return tuple(lines)


def _saved_a_day(fleet: FleetResult) -> float:
    """Lateness at its price."""
    return -((fleet.against_present and fleet.against_present.more_a_day) or 0.0)


def _line(fleet: FleetResult, present: FleetResult, currency: str) -> str:
    """One fleet's answer in a sentence or two."""
    own, name, answer = fleet.money, fleet.name, answer_of(fleet, present)
    saved = _saved_a_day(fleet)
    runs = f"it saves {money(saved, currency)} a day"
    if abs(saved) < LEAST:
        runs = "it runs for the same money"
    elif saved < 0:
        runs = f"it costs {money(-saved, currency)} a day more to run"
    days, theirs, ours = len(fleet.days), len(fleet.bad_dates), len(present.bad_dates)
    compared = fleet.against_present is not None and fleet.against_present.dates
    if not compared and theirs <= ours:
        return f"Can't tell about {name}: {own.why_not}."
    if theirs > ours:
        return (
            f"Don't change to {name}: it leaves orders out on {theirs} of {days} days, the present "
            f"trucks on {ours}."
        )
    if own.gain is None:
        if answer is Answer.KEEP:
            return f"Don't change to {name}: {runs}, whatever its price."
        most = own.break_even_purchase or 0.0
        worth = f" and may cost up to {money(most, currency)}" if most > 0 else ""
        return f"Can't tell about {name}: {own.why_not}. So far {runs}{worth}."
    each = "a year" if own.working_days else "a day"
    gain = f"{money(abs(own.gain), currency)} {each}"
    chance = (
        f" (± {money(own.scatter or 0.0, currency)} by chance)"
        if (own.scatter or 0) >= LEAST
        else ""
    )
    price = own.to_buy or 0.0
    if answer is Answer.DO:
        if price <= 0:
            return f"Change to {name}: nothing has to be paid, and it gains {gain}{chance}."
        return (
            f"Buy {name}: {money(price, currency)} come back in "
            f"{number(own.payback_years or 0.0, 1)} years, and its trucks last "
            f"{number(own.life_years or 0.0)}. Over their life it gains {gain}{chance}."
        )
    if answer is Answer.CANNOT_TELL and theirs < ours and own.gain < 0:
        return (
            f"Can't tell about {name} by cost alone: it leaves orders out on {theirs} of {days} "
            f"days, the present trucks on {ours}; for that it costs {gain} more, price included."
        )
    if answer is Answer.CANNOT_TELL and abs(own.gain) < LEAST:
        return f"No difference in money: {name} costs what the present trucks cost."
    if answer is Answer.CANNOT_TELL and _shares_place(fleet, present):
        what = "gain" if own.gain >= 0 else "loss"
        return (
            f"Can't tell about {name}: a tie with the present trucks. A {what} of {gain} is not "
            f"more than plans of the same day differ by{chance}."
        )
    if answer is Answer.CANNOT_TELL:
        what = "gain" if own.gain >= 0 else "loss"
        return f"Can't tell about {name}: a {what} of {gain} may be chance{chance}."
    saving = own.yearly_saving
    if saving is None or saving <= 0 or price <= 0:
        more = gain if saving is None else f"{money(abs(saving), currency)} a year"
        return f"Don't change to {name}: it costs {more} more to run."
    return (
        f"Don't buy {name}: it saves {money(saving, currency)} a year and costs "
        f"{money(price, currency)}, {number(price / saving)} years of that; its trucks last "
        f"{number(own.life_years or 0.0)}."
    )


def _turns(fleet: FleetResult, present: FleetResult, currency: str) -> Iterator[str]:
    """What would turn the answer about a fleet, and what else goes with it."""
    own = fleet.money
    most, days = own.break_even_purchase or 0.0, own.break_even_days
    price = own.to_buy or 0.0
    if own.gain is not None and most > 0 and price > 0:
        turns = f"a price above {money(most, currency)}"
        if not own.pays:
            turns = f"a price of {money(most, currency)} or less"
        if days and _saved_a_day(fleet) > 0:
            more = number(abs(100 * (days / own.working_days - 1)))
            if own.pays:
                turns += f", or less than {number(days)} working days a year ({more} % less work)"
            elif days <= DAYS_OF_A_YEAR:
                turns += f", or {number(days)} working days a year ({more} % more work)"
            else:
                turns += f", or {more} % more work of the same kind"
        yield f"What would turn this: {turns}."
    new, now = own.yearly, present.money.yearly
    if new is not None and now is not None and not own.pays and new < now:
        yield (
            f"When the present trucks must be replaced anyway, {fleet.name} costs "
            f"{money(now - new, currency)} a year less than buying the present ones new."
        )
    for tier in LICENSE_TIERS:
        reached = _reaching(fleet, tier)
        if reached and not _reaching(present, tier):
            yield (
                f"{', '.join(reached)} would reach a license tier that no present truck does "
                f"({tier}): ask your licensed adviser first."
            )


def _late(fleet: FleetResult, present: FleetResult, currency: str) -> Iterator[str]:
    """That one of the two keeps more customers waiting, and what that counts for."""
    theirs, ours = fleet.late_orders, present.late_orders
    if theirs is not None and ours is not None and theirs != ours:
        yield (
            f"{fleet.name} does {counted(theirs, 'order')} late, the present trucks {ours:,}, "
            f"priced at {money(fleet.late_cost or 0.0, currency)} a day, theirs at "
            f"{money(present.late_cost or 0.0, currency)} (by priority, with the chance of lost "
            "days): the answer above counts it as cost."
        )


def _reaching(fleet: FleetResult, tier: str) -> list[str]:
    return [
        truck.truck_id
        for truck in fleet.trucks
        if any(row.rule_id == tier and row.reached for row in truck.thresholds)
    ]
