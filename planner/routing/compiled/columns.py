"""What stands in which column (or row) of the search's arrays.

Few wide arrays instead of many narrow ones, since numba takes each out of its tuple on its own.
"""

ZERO, ONE, NONE, NO = 0, 1, -1, False
"""For arguments and first values (machine_code.py says why)."""

OPENS, CLOSES, SETUP_MIN, FLOW = range(4)
"""day.window (by window) has the first two, minutes; day.site (by site) all four; FLOW: gal/min."""
GAL, PRICE, HOSE_RUN_FT, TOLD_FROM, TOLD_TO, TOLD_PRICE, X_MILES, Y_MILES, CHEAP_WISH = range(9)
"""day.order, by order; PRICE: money of leaving it out; TOLD_PRICE: of beginning outside what its
customer was told (0 = nothing was told); X_MILES, Y_MILES: where it lies; CHEAP_WISH: trucks that
wish for no more are offered the order wherever they go, -inf = none."""
PLACE, MIX, FIRST_WINDOW, END_WINDOW, GROUP = range(5)
"""day.order_at, by order: rows of the matrices, of mixes, of day.window, of day.group (-1 =
none)."""
FIRST_MEMBER, END_MEMBER, FIRST_CHOICE, CHOICES = range(4)
"""day.group, by group of orders whose days depend on each other: rows of day.member; where its
combinations of days begin in day.choice (a day per member, -1 = left out) and how many they are."""
MEMBER, LIKE = range(2)
"""day.member: row of the order; row of the first of its group that costs the same anywhere."""
ANY_DAY, NO_DAY, NEW_DAY = -1, -2, -3
"""In state.day_of, beside days: the order is in no group; has no day in its group's combination;
its group is given another one when it is put back."""
DRIVE_MIN, MILES, BACK_MIN, BACK_MILES = range(4)
"""day.legs (profile, from, to): there and back, so that all drives to a place lie side by side."""
(
    SHIFT_START,
    SHIFT_END,
    LATEST,
    LUNCH_MIN,
    LUNCH_FROM,
    LUNCH_TO,
    PAYLOAD_LB,
    PAY,
    OVERTIME_PAY,
    MILE_COST,
    DEAREST_PAY,
    START_MIN,
    START_MILES,
    IDLE_MONEY,
    PER_REFILL,
    PER_SQUARED_MIN,
    PER_MILE_APART,
    ANY_TOLD,
    DAY_MIN,
    LOAD_SETUP_MIN,
    LOAD_FLOW,
    LOAD_BESIDE,
) = range(22)
"""day.truck, by truck: minutes, pounds, money per minute and per mile. DEAREST_PAY: the most that a
minute can cost. START_MIN, START_MILES: when it begins or goes on, and what it has driven then;
IDLE_MONEY: with no orders. PER_..: prices of planner.routing.problem.Preferences; ANY_TOLD: 1 when
some customer was told a time; DAY_MIN: midnight of its day. LOAD_SETUP_MIN, LOAD_FLOW (gal/min,
inf where it takes no time): of the departure's fill; LOAD_BESIDE: 1 when it is done the evening
before."""
(
    YARD,
    PROFILE,
    LIKENESS,
    PARTS,
    FIRST_LOAD,
    LOADS,
    START_PLACE,
    START_MAKES,
    IS_OUT,
    START_LUNCHED,
    DAY,
) = range(11)
"""day.truck_at, by truck: site row of its yard, matrices, trucks that differ by name only share
LIKENESS, number of compartments, its rows of day.load. START_PLACE: row of the matrices;
START_MAKES: row of day.site_makes for what is filled before it starts, the last row (which makes
nothing) when it is out already."""
HOSE_FT, HOSE_GAL, HOSE_MIN, GUN, START_HELD = range(5)
"""day.line (truck, line): HOSE_MIN to push a hose's content out, GUN gal/min, START_HELD mix in the
hose at the start, -1 = none."""
CAPACITY, HEEL = range(2)
"""day.part (truck, compartment), gallons."""
DAY_COST, BINDS, CLEAN_MIN, PAID_LEAST = range(4)
"""day.load, by loading: money of going out; 1 when a truck full to the brim is too heavy; minutes
of cleaning that the departure waits for; minutes that are paid at least."""
START_GAL, LB_PER_GAL = range(2)
"""day.load_part (loading, compartment)."""

(
    LABELS_KEPT,
    POUR_GUESS,
    PROMISES,
    TIDY_MAY_SAVE,
    NEW_ORDERS_LOOKED,
    NEAR_LOADINGS,
    ALIKE_CHANCE,
    ALIKE_LOADINGS,
    TRUCKS_NEAR,
    LIGHT_STOPS,
    BLINK,
    OFFERS,
    STRING_MOST,
    TAKEN_MEAN,
    SPLIT_CHANCE,
    SPLIT_LONGER,
    ABSENT_CENTER,
    EXCHANGE_CHANCE,
    EXCHANGE_PATIENCE,
    EXCHANGE_DAYS,
    EXCHANGE_TANKFULS,
    EXCHANGE_IDLE,
    EXCHANGE_AT_REFILL,
    DAYS_ANEW,
) = range(24)
TUNED = (
    "refill_labels_kept",
    "refill_pour_guess",
    "refill_promises",
    "search_tidy_may_save",
    "search_new_orders_looked",
    "search_near_loadings",
    "search_alike_chance",
    "search_alike_loadings",
    "search_trucks_near",
    "search_light_stops",
    "search_blink",
    "search_offers",
    "search_string_most",
    "search_taken_mean",
    "search_split_chance",
    "search_split_longer",
    "search_absent_center",
    "search_exchange_chance",
    "search_exchange_patience",
    "search_exchange_days",
    "search_exchange_tankfuls",
    "search_exchange_idle",
    "search_exchange_at_refill",
    "search_days_anew",
)
"""day.tuning: these numbers of planner.routing.tuning.Tuning."""

DRAWN_GAL, CHANGE_MIN, ARRIVE, LEAVE, BUSY_MIN, REST_MIN, REST_MONEY = range(7)
"""Rows of work.stop, by stop: hose gallons, changeover and clock of the stop order last priced;
of a sequence the minutes at each order, and least minutes and money from it to the end."""
HEAD, TAIL, REST_FILLS = range(3)
"""Rows of work.row, by place of a sequence: its first and last label, and the refills that the
gallons ask for after it."""
SPRAY, HOSE, SPRAYED, HOSED = range(4)
"""work.gal (.., fill, mix) needs of each fill; (.., place, mix) running sums of a sequence."""
COUNT, FIRST_AT = range(2)
"""work.tally (.., place, mix) orders of a mix so far; (.., count, mix) place of the next one."""
HELD, FILL_OF, USED, PROMISE, PROMISE_MOST, PROMISE_LEAST, REACHED, RODE = range(8)
"""Rows of work.mix: by line what its hose holds; by mix the fill it is drawn from, 1 when a
sequence uses it, how far it is meant to last, how far it can, and how far it was in the leg ridden
last."""
CLOCK, MILES_SO_FAR, PAID, REACH, WISH, BESIDE, LEVEL = range(7)
"""work.label, by label: CLOCK after set-up and before pouring; PAID and REACH: money and minute by
which labels are compared; WISH: price of its refills; BESIDE: minutes paid beside
the clock; LEVEL on: gallons by compartment."""
NEXT, AT, SITE, LUNCHED, LUNCH_AT, PARENT, STATE, PROMISED = range(8)
"""work.label_at, by label: next of its place; orders before it; site row, -1 = departure; whether
lunch was had, and before which order in the leg to it; PROMISED on: by mix, orders it lasts for."""
(
    RETURN_MIN,
    RETURN_MILES,
    HAD_LUNCH,
    LEG_PLAIN,
    LEG_LATE,
    LEG_LUNCH_AT,
    LEG_MILES,
    LEG_BESIDE,
    FOUND_COST,
    LENIENCE,
    HEAT,
) = range(11)
"""work.out: of the stop order last priced; of the leg last ridden, without and with lunch in it;
the cheapest placement so far. LENIENCE: share of the unused part of a refill that is not
counted; HEAT: temperature of the step."""
FOUND_LABEL, FOUND_LUNCH, LABELS_MADE = range(3)
"""work.found: last label of the cheapest placement, and lunch in its last leg."""

LOAD, SIZE, REFILLS = range(3)
"""state.truck, by truck: row of its loading, number of stops, refills among them."""
COST, HOME_MIN, MIDDLE_X, MIDDLE_Y, LEAST_REFILL, UNUSED = range(6)
"""state.money, by truck: exact cost; minute of return; middle of its orders; least money of one
more refill; money of its last refill that its gallons do not use."""
(
    GAP_LEAVE,
    GAP_LATE,
    GAP_SLACK,
    GAP_POUR,
    GAP_CUT_MONEY,
    GAP_DRAWN,
    GAP_DRIVE_MIN,
    GAP_MILES,
) = range(8)
"""state.gap (truck, stop or the gap before it): minute a stop is left; latest arrival that keeps
what follows as it is; minutes waited from there on; minutes per gallon of the fill before a gap, 0
for the departure's; least money of one more refill in a gap; gallons that an order draws with its
hose; the drive that an order put into a gap would break up."""

ACTIVE, TOUCHED, UNTIDY, SEEN, SEEN_LIKE = range(5)
"""hand.truck, by truck: whether the search may change it; changed in this step; refills not yet put
anew; stamps of the last order offered to it and to its kind."""
OFFER_TRUCK, OFFER_GAP, OFFER_CUT = range(3)
"""hand.offer, by offer: truck, gap, where one more refill is needed (insert.py says how)."""
ABSENT, STAMP, KIND_LOADING = range(3)
"""hand.n: number of absent orders; last stamp given; loading of the idle truck last offered."""
