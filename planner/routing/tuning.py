"""The numbers that steer how hard and where engines look, in one place.

None of them says what a plan may be: rules, tolerances and units stand elsewhere. Each may be set
in a TOML file (planner/tuning_file.py); with the defaults an effort by count gives the same plan
always.
"""

from dataclasses import dataclass, field, fields
from typing import Any, NamedTuple


class TuningLimits(NamedTuple):
    """What a number may be, and what it is for."""

    least: float
    most: float
    meaning: str


def _number(default: Any, least: float, most: float, meaning: str) -> Any:
    return field(default=default, metadata={"limits": TuningLimits(least, most, meaning)})


def _whole(default: int, meaning: str, least: int = 1, most: int = 1_000_000) -> Any:
    return _number(default, least, most, meaning)


def _share(default: Any, meaning: str, least: float = 0.0, most: float = 1.0) -> Any:
    return _number(default, least, most, meaning)


def _amount(default: Any, meaning: str, least: float = 0.001, most: float = 1000.0) -> Any:
    return _number(default, least, most, meaning)


@dataclass(frozen=True)
class Tuning:
    """Names begin with the room or engine that they steer."""

    search_tankfuls: tuple[float, ...] = _amount(
        (2.0, 1.0, 4.0),
        "greedy loadings of the fleet, each made for so many tankfuls a day: few spread the mixes "
        "over more trucks, many leave more trucks to one mix",
    )
    search_loadings: int = _whole(3, "fleet loadings that CP-SAT proposes")
    search_steps_per_count: int = _whole(120, "steps of each search per unit of effort")
    search_trial_share: float = _share(
        0.03, "share of the effort that tries two fleet loadings side by side"
    )
    search_ortools_looks: int = _whole(2, "OR-Tools' looks at its limit per unit of effort")
    search_ortools_orders: int = _whole(
        250, "days of more orders start without OR-Tools, whose first plan would take too long", 0
    )
    search_ortools_share: float = _share(0.06, "share of the seconds for OR-Tools' plan")
    search_starts_most: int = _whole(8, "annealings from anew at most")
    search_steps_per_order: int = _whole(
        200, "each annealing from anew has at least so many steps per order"
    )
    search_early_share: float = _share(
        0.7, "share of the effort for all of them; the last annealing goes on from the best", 0.01
    )
    search_last_from: float = _share(
        0.25,
        "where the last annealing begins: warm enough to move orders between trucks",
        0.0,
        0.99,
    )
    search_again_most: int = _whole(
        2, "more annealings at most for a plan whose gallons would go into a fill less", 0
    )
    search_again_share: float = _share(
        0.8, "share of the last annealing's steps for each of them", 0.01
    )
    search_again_dearer: float = _amount(
        4.0, "money by which every fill is dearer there, as a share of what an order costs", 0.0
    )
    search_again_dearer_until: float = _share(0.7, "share of their steps until which it is")
    search_again_worth: float = _share(
        0.005, "share of a plan's money that a refill costs at least for it to be tried"
    )
    search_again_effort: float = _amount(
        1.0, "CP-SAT's deterministic time to see whether a fill less would do"
    )
    search_rounds: int = _whole(6, "parts of an annealing; the searches exchange between them")
    search_exchange_from: int = _whole(
        3, "first part before which the worse search takes over the better plan", 0
    )
    search_reload_rounds: int = _whole(5, "parts in which loadings are changed", 0)
    search_reload_chances: tuple[float, ...] = _share(
        (0.4, 0.15), "share of the steps of the two searches that begin with another loading"
    )
    search_hot: float = _amount(
        2.0, "acceptance temperature at the first step, as a share of what an order costs"
    )
    search_cold: float = _amount(0.1, "the same at the last step")
    search_lenient_until: float = _share(
        0.5,
        "until this share of an annealing a refill counts only in the share in which it is used",
        0.0,
        0.99,
    )
    search_block_steps: int = _whole(
        100, "steps between two looks at the clock, and at truck-days worth remembering"
    )
    search_seen_days: int = _whole(
        2_000, "truck-days that each search remembers for the best day that they make together", 0
    )
    search_recombine_orders: int = _whole(
        250, "days of more orders are put together at the end only: the program is a large one", 0
    )
    search_recombine_share: float = _share(
        0.04, "share of the seconds; where it took more, the next time is at the end"
    )
    search_recombine_looks: int = _whole(
        300_000, "orders looked at while truck-days are put together: a third of a second", 0
    )
    search_near_orders: int = _whole(300, "neighbors among which strings are taken out")
    search_string_most: float = _amount(
        10.0,
        "longest string (this, the next and search_blink: Christiaens and Vanden Berghe 2020, "
        "Transportation Science 54(2); from memory)",
        1.0,
    )
    search_taken_mean: float = _amount(10.0, "orders taken out per step on average", 1.0)
    search_split_chance: float = _share(
        0.5, "chance that a string leaves some orders in its middle (same source)"
    )
    search_split_longer: float = _share(
        0.01, "chance that it leaves one more (same source)", 0, 0.9
    )
    search_absent_center: float = _share(
        0.1, "chance that strings are taken around an order that is not served"
    )
    search_trucks_near: int = _whole(40, "neighbors of an order whose trucks are offered it")
    search_light_stops: int = _whole(
        0, "trucks of so many stops at most are offered every order, wherever it lies", 0
    )
    search_blink: float = _share(0.01, "chance that a gap is not seen")
    search_offers: int = _whole(4, "trucks whose guess for an order is priced exactly")
    search_tidy_may_save: float = _amount(
        1.0, "refills are put anew on plans within the cost of so many orders of the present one"
    )
    search_new_orders_looked: int = _whole(
        30, "random orders among which one is looked for that a newly loaded truck can do"
    )
    search_exchange_chance: float = _share(
        0.2, "share of the steps in which two trucks exchange parts of their days"
    )
    search_exchange_patience: float = _amount(
        40.0, "most that an exchange may cost before ruin and recreate, in temperatures", 0.0
    )
    search_exchange_days: float = _share(
        0.05, "share of the exchanges that are of whole days, with loadings that fit"
    )
    search_exchange_tankfuls: float = _share(
        0.35, "share that are of tankfuls; the rest are of ends of days"
    )
    search_exchange_idle: float = _share(
        0.1, "chance that a truck exchanges with one that stays at home"
    )
    search_exchange_at_refill: float = _share(
        0.4, "chance that an end of a day begins at a refill, not at one of two near orders"
    )
    search_days_anew: float = _share(
        0.3,
        "chance that an order taken out, whose day depends on others', has them all taken out and "
        "given days anew",
    )
    search_near_loadings: int = _whole(
        8, "half of the other times another loading is one of so many best guesses"
    )
    search_alike_chance: float = _share(
        0.8,
        "chance of one of the searches (of both of a calendar's) that another loading is the most "
        "alike of some random ones",
    )
    search_alike_loadings: int = _whole(
        40, "random loadings of which that is the one: with it a truck keeps most of its orders"
    )

    calendar_steps_per_count: int = _whole(
        60, "steps of each search over many days per unit of effort"
    )
    calendar_parts: int = _whole(8, "parts of an annealing over many days")
    calendar_exchange_from: int = _whole(4, "part from which its searches share the best plan", 0)
    calendar_warm_from: float = _share(
        0.45, "where it begins from yesterday's calendar: too cool to break that up"
    )
    calendar_trucks_near: int = _whole(
        120, "search_trucks_near of many days: the nearest orders may all lie on days that are shut"
    )
    calendar_trucks_near_large: int = _whole(
        15,
        "the same for calendars of more than calendar_recombine_orders orders, which get few steps",
    )
    calendar_light_stops_large: int = _whole(
        6,
        "search_light_stops of such calendars: where the cheap days of late orders are full, none "
        "of so few neighbors lies on a truck that still has room",
        0,
    )
    calendar_taken_mean_large: float = _amount(
        7.0, "search_taken_mean of calendars of more than calendar_recombine_orders orders", 1.0
    )
    calendar_reload_chance: float = _share(0.3, "chance that a truck-day is loaded otherwise")
    calendar_later_cost: float = _amount(
        1.5,
        "cost on the road of an order left for after the last day, as a multiple of the mean: "
        "those that are left are the ones far from others",
    )
    calendar_recombine_orders: int = _whole(
        600,
        "calendars of more orders are not put together from truck-days seen: the program is slow",
        0,
    )
    calendar_recombine_steps: int = _whole(
        5, "nor are those of fewer steps per order: an answer is not to wait for a library", 0
    )
    calendar_group_looks: int = _whole(
        400,
        "combinations of days of one group of orders that nearest-fit looks at; by chance beyond",
    )
    calendar_idle_looks: int = _whole(
        6, "idle truck-days that are tried for orders left out together", 0
    )
    calendar_last_looks: int = _whole(
        60, "orders left out of a calendar that are looked at once more, by the rules themselves"
    )

    ortools_loadings: int = _whole(4, "fleet loadings of CP-SAT that are routed")
    ortools_brief_looks: int = _whole(12, "OR-Tools' looks per unit of effort for every loading")
    ortools_long_looks: int = _whole(60, "the same for the best ones")
    ortools_drafts: int = _whole(2, "drafts that get the longer effort")
    ortools_brief_share: float = _share(0.15, "share of the seconds spent on every loading")
    ortools_long_share: float = _share(0.35, "share spent when the best ones are routed")
    ortools_short_rounds_share: float = _share(0.5, "share spent when the best draft is chosen")
    ortools_restarts: int = _whole(
        4, "the improvement is cut in so many parts, each begun warm from the best so far"
    )
    ortools_sites: int = _whole(4, "sites near a truck's orders that OR-Tools may refill at")
    ortools_refill_copies: int = _whole(5, "visits of a truck to one site at most")
    ortools_typical_refill: float = _share(0.6, "share of a truck's room that a refill pours")

    nearest_fit_tankfuls: float = _amount(2.0, "tankfuls of each compartment in a day")
    nearest_fit_refills: int = _whole(
        4, "orders for which refills are put anew before a truck's day is called full", 0
    )

    loading_options: int = _whole(60, "loadings of a truck that CP-SAT looks at")
    loading_refills: int = _whole(4, "refill stops of a truck that CP-SAT thinks of", 0)
    loading_refill_detour_min: float = _amount(
        8.0, "minutes to a site and back (a guess for a town)", 0.0
    )
    loading_neighborhoods_per_truck: int = _whole(3, "parts of the town, per truck")
    loading_packed: float = _share(
        0.95, "share of a compartment that whole orders use up before a refill", 0.1
    )
    loading_first_effort: float = _amount(0.12, "CP-SAT's effort for its first choice")
    loading_next_effort: float = _amount(0.04, "CP-SAT's effort for each further choice")

    refill_sites_near: int = _whole(6, "sites remembered for each place, nearest first")
    refill_labels_kept: int = _whole(
        3, "refills before one order that are extended, for each label kept of a kind"
    )
    refill_pour_guess: float = _share(
        0.5, "share of a truck's room that a refill pours, when sites are compared"
    )
    refill_promises: int = _whole(2, "amounts of another site's mix that are tried")

    repair_places: int = _whole(12, "places in a stop order priced exactly, by least detour")
    repair_mended: int = _whole(2, "of them mended where the order fits nowhere as it is", 0)
    repair_thorough: int = _whole(4, "places for which all refills are put anew at the end", 0)
    repair_mend_refills: int = _whole(10, "places and sites for one more refill", 0)
    repair_mend_lunches: int = _whole(3, "places for lunch")
    repair_mend_sites: int = _whole(2, "sites for one more refill at each place")
    repair_exchanged: int = _whole(2, "orders taken out for one that has more price", 0, 3)
    repair_exchanges: int = _whole(2_000, "exchanges tried at most", 0)
    repair_string_most: int = _whole(8, "longest string of neighbors taken out of one truck")
    repair_taken_mean: float = _amount(6.0, "orders taken out in a round, on average", 1.0)
    repair_warm: float = _amount(0.6, "acceptance temperature at first, in costs of an order")
    repair_cold: float = _amount(0.03, "the same at the end")
    repair_nearly: float = _amount(
        1.0, "refills are put anew on plans within the cost of so many orders of the present one"
    )
    repair_reloads: float = _share(0.1, "share of the rounds that begin with another loading")
    repair_rescues: int = _whole(8, "loadings tried for an order that no truck can do as loaded")
    repair_reloadings: int = _whole(16, "other loadings tried for a truck's orders")

    refills_effort_per_count: float = _amount(
        0.004, "CP-SAT's effort for the last word on refills, per unit of effort", 0.0, 10.0
    )
    refills_share: float = _share(0.1, "share of the seconds for it", 0.0, 0.9)

    shared_moved_most: int = _whole(3, "places by which a stop moves while trucks queue")
    shared_queue_rounds: int = _whole(40, "changes made for the sake of a queue at most")
    shared_stock_effort: float = _amount(0.5, "CP-SAT's effort for choosing who waits")

    unserved_trucks: int = _whole(6, "trucks asked what would make room")
    unserved_loadings: int = _whole(4, "other loadings of each that are asked")
    unserved_parts: int = _whole(4, "parts into which an order may be divided", 2)
    unserved_in_detail: int = _whole(15, "orders of a day for which it is asked", 0)
    unserved_tried: int = _whole(60, "unserved orders tried thoroughly at the end, dearest first")
    unserved_short_day: int = _whole(12, "stop orders so short are searched thoroughly", 0)


DEFAULT_TUNING = Tuning()


def limits_of() -> dict[str, TuningLimits]:
    """Least, most and meaning of each number, by name."""
    return {one.name: one.metadata["limits"] for one in fields(Tuning)}
