"""The tables of the demo workbook that are written by hand: company, fleet, products, mixes.

Company, people and products are invented. Product strengths, rates and limits have the size that
labels of such products have (typical values from memory, no label copied), so that the sums look
like a real day's; registration numbers begin with 00000, which no label has.
"""

from __future__ import annotations

Row = dict[str, str]


def rows_of(header: str, *lines: str) -> list[Row]:
    """Rows from lines with ' | ' between cells, under the header's names."""
    names = [name.strip() for name in header.split("|")]
    rows = []
    for line in lines:
        cells = [cell.strip() for cell in line.split("|")]
        if len(cells) != len(names):
            raise ValueError(f"{len(cells)} cells under {len(names)} names: {line}")
        rows.append(dict(zip(names, cells, strict=True)))
    return rows


SETTINGS = rows_of(
    "setting | value",
    "company | Tansy and Oak Lawn Care",
    "phone | (740) 555-0142",
    "state | OH",
    "business_license | OH-00000-D",
    "setup_min_per_visit | 6",
    "fill_margin_percent | 5",
    "rinse_count | 3",
    "rinse_water_percent | 10",
    "rinse_min_each | 8",
    "rinsate_goes_to | rinse tank behind the shop; used as carrier on the next total-kill job",
    "pay_per_hour | 24",
    "overtime_factor | 1.5",
    "cost_per_mile | 0.72",
    "wind_most_mph | 15",
    "rain_counts_from_percent | 50",
    "inspection_min | 15",
    "washdown_min | 15",
    "paperwork_min | 10",
)

# No tank volume of a truck reaches 1,000 gal.
TRUCKS = rows_of(
    "truck | name | yard | in_service | shift_start | shift_end | overtime_most_min | lunch_min"
    " | lunch_earliest | lunch_latest | crew | applicator | applicator_license | empty_weight_lb"
    " | gvwr_lb | height_ft | cost_per_day | cost_per_mile",
    "T1 | Truck 1, long flatbed | YARD | yes | 6:45 AM | 4:00 PM | 60 | 30 | 11:00 AM | 1:30 PM"
    " | 1 | Dale Ostrander | OH-00000-101 | 13100 | 19500 | 9.2 | 62 | 0.98",
    "T2 | Truck 2, two-reel flatbed | YARD | yes | 6:45 AM | 4:00 PM | 60 | 30 | 11:00 AM"
    " | 1:30 PM | 1 | Renee Falk | OH-00000-102 | 11300 | 16000 | 8.9 | 54 | 0.90",
    # 450 gal of compartments weigh more than the rating leaves: the weight fills up first.
    "T3 | Truck 3, box body | YARD | yes | 7:00 AM | 4:00 PM | 45 | 30 | 11:00 AM | 1:30 PM"
    " | 1 | Curtis Abel | OH-00000-103 | 11600 | 14000 | 10.4 | 48 | 0.84",
    "T4 | Truck 4, short flatbed | YARD | yes | 6:45 AM | 3:30 PM | 60 | 30 | 11:00 AM | 1:30 PM"
    " | 1 | Joyce Penhallow | OH-00000-104 | 8700 | 11500 | 7.8 | 40 | 0.78",
    "T5 | Truck 5, pickup with skid tanks | YARD | yes | 7:15 AM | 3:45 PM | 30 | 30 | 11:00 AM"
    " | 1:30 PM | 1 | Marco Dietz | OH-00000-105 | 7600 | 10000 | 6.9 | 30 | 0.70",
)

LINES = rows_of(
    "truck | line | hose_ft | hose_inside_diameter_in | gun_gal_per_min | pump_gal_per_min"
    " | pump_psi",
    "T1 | A | 400 | 0.5 | 2.6 | 12 | 300",
    "T1 | B | 300 | 0.5 | 2.6 | 12 | 300",
    "T1 | S | 250 | 0.375 | 1.0 | 3 | 80",
    "T2 | A | 400 | 0.5 | 2.5 | 12 | 300",
    "T2 | B | 300 | 0.5 | 2.5 | 9 | 250",
    "T2 | S | 250 | 0.375 | 1.0 | 3 | 80",
    "T3 | A | 300 | 0.5 | 2.5 | 9 | 250",
    "T3 | B | 300 | 0.5 | 2.5 | 9 | 250",
    "T3 | S | 200 | 0.375 | 0.8 | 3 | 80",
    "T4 | A | 300 | 0.5 | 2.4 | 9 | 250",
    "T4 | B | 250 | 0.5 | 2.4 | 9 | 250",
    "T4 | S | 200 | 0.375 | 0.8 | 3 | 80",
    "T5 | A | 250 | 0.375 | 2.0 | 7 | 200",
    "T5 | B | 250 | 0.375 | 2.0 | 7 | 200",
    "T5 | S | 200 | 0.375 | 0.8 | 3 | 80",
)

# T1 compartments 2 and 3 share line B, T2's 1 and 2 share line A, T5's 1 and 2 share line A.
# T1-1 still holds yesterday's pre-emergent; T5-2 last held the non-selective mix (a gravel lot).
COMPARTMENTS = rows_of(
    "truck | compartment | capacity_gal | heel_gal | line | position | reserved_for | last_mix"
    " | leftover_gal",
    "T1 | T1-1 | 300 | 3 | A | 1 | | PRE | 72",
    "T1 | T1-2 | 180 | 2 | B | 2 | | GREEN | 2",
    "T1 | T1-3 | 100 | 1.5 | B | 3 | | |",
    "T1 | T1-4 | 25 | 0.5 | S | 4 | non-selective herbicide | TOTAL | 6",
    "T2 | T2-1 | 200 | 2 | A | 1 | | PRE | 2",
    "T2 | T2-2 | 120 | 2 | A | 2 | | |",
    "T2 | T2-3 | 110 | 1.5 | B | 3 | | DISEASE | 1",
    "T2 | T2-4 | 20 | 0.5 | S | 4 | non-selective herbicide | TOTAL | 0.5",
    "T3 | T3-1 | 250 | 2 | A | 1 | | PRE | 2",
    "T3 | T3-2 | 180 | 2 | B | 2 | | BROAD | 2",
    "T3 | T3-3 | 20 | 0.5 | S | 3 | non-selective herbicide | TOTAL | 4",
    "T4 | T4-1 | 150 | 1.5 | A | 1 | | BROAD | 1",
    "T4 | T4-2 | 100 | 1.5 | B | 2 | | |",
    "T4 | T4-3 | 15 | 0.4 | S | 3 | non-selective herbicide | |",
    "T5 | T5-1 | 100 | 1 | A | 1 | | BROAD | 1",
    "T5 | T5-2 | 60 | 1 | A | 2 | | TOTAL | 0.8",
    "T5 | T5-3 | 50 | 1 | B | 3 | | INSECT | 1",
    "T5 | T5-4 | 15 | 0.4 | S | 4 | non-selective herbicide | TOTAL | 0.4",
)

_GLOVES = "long sleeves and trousers; chemical-resistant gloves; shoes and socks"
_EYES = _GLOVES + "; goggles or face shield"
_DRY = "Keep people and pets off until the spray has dried"
_PRODUCT_COLUMNS = (
    "product | name | registration_no | form | formulation | group | active_ingredient"
    " | density_lb_per_gal | ai_lb_per_gal | ai_percent | ai_basis | nitrogen_percent"
    " | phosphate_percent | potash_percent | slow_nitrogen_percent | rate_least | rate_most"
    " | annual_most | least_days_between | most_per_year | carrier_least_gal_per_1000_ft2"
    " | carrier_most_gal_per_1000_ft2 | wind_least_mph | wind_most_mph | temperature_least_f"
    " | temperature_most_f | rain_free_hours | not_on_grass | water_distance_ft | signal_word"
    " | ppe | reentry | price | price_unit | container"
)


def _product(text: str, **limits: str) -> Row:
    """A product from 'id | name | no. | form | formulation | group | active ingredient' and
    whatever its label limits."""
    names = [name.strip() for name in _PRODUCT_COLUMNS.split("|")]
    row = dict.fromkeys(names, "")
    row.update(zip(names, (cell.strip() for cell in text.split("|")), strict=False))
    unknown = set(limits) - set(names)
    if unknown:
        raise ValueError(f"no such product columns: {sorted(unknown)}")
    row.update(limits)
    return row


PRODUCTS = [
    _product(
        "TRIO | Odlan Trio Selective | 00000-123 | liquid | SL | broadleaf herbicide"
        " | 2,4-D; MCPP-p; dicamba (amine salts)",
        ai_lb_per_gal="3.3", ai_percent="34.7", ai_basis="ae",
        rate_least="1.1 fl oz/1000 sq ft", rate_most="1.5 fl oz/1000 sq ft",
        annual_most="3 fl oz/1000 sq ft", least_days_between="28", most_per_year="2",
        carrier_least_gal_per_1000_ft2="0.5", carrier_most_gal_per_1000_ft2="5",
        wind_least_mph="2", wind_most_mph="10", temperature_least_f="40",
        temperature_most_f="85", rain_free_hours="6", not_on_grass="bentgrass; St. Augustine",
        water_distance_ft="25", signal_word="DANGER", ppe=_EYES, reentry=_DRY,
        price="68", price_unit="gal", container="2.5 gal",
    ),
    _product(
        "GATE | Odlan Gatekeep 65 | 00000-131 | dry | WDG | pre-emergent herbicide | prodiamine",
        ai_percent="65", rate_least="0.185 oz wt/1000 sq ft", rate_most="0.55 oz wt/1000 sq ft",
        annual_most="1.5 lb/A", least_days_between="60", most_per_year="2",
        carrier_least_gal_per_1000_ft2="0.5", wind_most_mph="15", rain_free_hours="2",
        water_distance_ft="25", signal_word="CAUTION", ppe=_GLOVES, reentry=_DRY,
        price="16.5", price_unit="lb", container="5 lb",
    ),
    _product(
        "CLEAR | Corvane Clear 4 | 00000-140 | liquid | SL | non-selective herbicide | glyphosate",
        ai_lb_per_gal="4", ai_percent="41", rate_least="1 % v/v", rate_most="2 % v/v",
        annual_most="8 qt/A", least_days_between="14", wind_most_mph="15", rain_free_hours="4",
        water_distance_ft="15", signal_word="CAUTION", ppe=_GLOVES, reentry=_DRY,
        price="24", price_unit="gal", container="2.5 gal",
    ),
    _product(
        "UREA28 | Brightmere 28-0-0 | | liquid | FERT | fertilizer | urea, slow-release urea",
        density_lb_per_gal="10.6", nitrogen_percent="28", slow_nitrogen_percent="30",
        rate_least="0.2 lb N/1000 sq ft", rate_most="0.75 lb N/1000 sq ft",
        annual_most="4 lb N/1000 sq ft", least_days_between="21",
        carrier_least_gal_per_1000_ft2="1", temperature_most_f="88",
        ppe=_GLOVES, reentry=_DRY, price="4.1", price_unit="gal", container="265 gal",
    ),
    _product(
        "FEED18 | Brightmere 18-3-6 | | liquid | FERT | fertilizer | urea, phosphate, potash",
        density_lb_per_gal="10.3", nitrogen_percent="18", phosphate_percent="3",
        potash_percent="6", slow_nitrogen_percent="50", rate_least="0.2 lb N/1000 sq ft",
        rate_most="0.7 lb N/1000 sq ft", annual_most="4 lb N/1000 sq ft",
        least_days_between="21", carrier_least_gal_per_1000_ft2="1", temperature_most_f="88",
        ppe=_GLOVES, reentry=_DRY, price="5.2", price_unit="gal", container="265 gal",
    ),
    _product(
        "IRON6 | Brightmere Iron Six | | liquid | SL | iron | chelated iron 6 %",
        density_lb_per_gal="10.4", rate_least="1 fl oz/1000 sq ft",
        rate_most="6 fl oz/1000 sq ft", carrier_least_gal_per_1000_ft2="1.5",
        temperature_most_f="85", signal_word="CAUTION", ppe=_EYES,
        reentry="Rinse stone and concrete at once, it stains", price="11", price_unit="gal",
        container="2.5 gal",
    ),
    _product(
        "SHIELD | Halverd Lawn Shield | 00000-207 | liquid | EC | insecticide | bifenthrin",
        ai_lb_per_gal="0.6667", ai_percent="7.9", rate_least="0.25 fl oz/1000 sq ft",
        rate_most="1 fl oz/1000 sq ft", annual_most="4 fl oz/1000 sq ft",
        least_days_between="7", carrier_least_gal_per_1000_ft2="2",
        carrier_most_gal_per_1000_ft2="10", wind_most_mph="15", rain_free_hours="2",
        water_distance_ft="25", signal_word="CAUTION", ppe=_GLOVES, reentry=_DRY,
        price="52", price_unit="gal", container="1 gal",
    ),
    _product(
        "GRUB2 | Halverd Grub Two | 00000-211 | liquid | SC | insecticide | imidacloprid",
        ai_lb_per_gal="2", ai_percent="22.6", rate_least="0.46 fl oz/1000 sq ft",
        rate_most="0.6 fl oz/1000 sq ft", annual_most="0.4 lb ai/A", most_per_year="1",
        carrier_least_gal_per_1000_ft2="2", wind_most_mph="15", water_distance_ft="25",
        signal_word="CAUTION", ppe=_GLOVES, reentry=_DRY, price="88", price_unit="gal",
        container="1 gal",
    ),
    _product(
        "PROPI | Corvane Turf Guard 1.3 | 00000-155 | liquid | EC | fungicide | propiconazole",
        ai_lb_per_gal="1.3", ai_percent="14.3", rate_least="0.5 fl oz/1000 sq ft",
        rate_most="2 fl oz/1000 sq ft", annual_most="8 fl oz/1000 sq ft",
        least_days_between="14", carrier_least_gal_per_1000_ft2="1", wind_most_mph="15",
        rain_free_hours="2", water_distance_ft="25", signal_word="WARNING", ppe=_EYES,
        reentry=_DRY, price="61", price_unit="gal", container="1 gal",
    ),
    _product(
        "AZO50 | Corvane Sward 50 | 00000-158 | dry | WDG | fungicide | azoxystrobin",
        ai_percent="50", rate_least="0.2 oz wt/1000 sq ft", rate_most="0.4 oz wt/1000 sq ft",
        annual_most="2 oz wt/1000 sq ft", least_days_between="14",
        carrier_least_gal_per_1000_ft2="1", wind_most_mph="15", rain_free_hours="2",
        water_distance_ft="25", signal_word="CAUTION", ppe=_GLOVES, reentry=_DRY,
        price="96", price_unit="lb", container="3 lb",
    ),
    _product(
        "STICK | Merrow Spread-and-Stick | | liquid | NIS | surfactant | alcohol ethoxylates",
        density_lb_per_gal="8.4", rate_least="0.125 % v/v", rate_most="0.5 % v/v",
        signal_word="CAUTION", ppe=_EYES, price="19", price_unit="gal", container="2.5 gal",
    ),
    _product(
        "MARK | Merrow Marker Green | | liquid | DYE | colorant | dye",
        density_lb_per_gal="8.9", rate_least="0.1 fl oz/gal", rate_most="1 fl oz/gal",
        ppe=_GLOVES, price="34", price_unit="gal", container="1 gal",
    ),
    _product(
        "CALM | Merrow Foam Calm | | liquid | DEFOAM | defoamer | silicone emulsion",
        density_lb_per_gal="8.3", rate_least="0.5 fl oz/100 gal", rate_most="4 fl oz/100 gal",
        ppe=_GLOVES, price="41", price_unit="gal", container="1 qt",
    ),
    _product(
        "BLEND | Merrow Blend Aid | | liquid | COND | conditioner | compatibility agent, buffer",
        density_lb_per_gal="9.1", rate_least="0.5 pt/100 gal", rate_most="3 pt/100 gal",
        signal_word="CAUTION", ppe=_EYES, price="28", price_unit="gal", container="1 gal",
    ),
    _product(
        "SOAK | Merrow Soak-In | | liquid | ADJ | soil wetting agent | block polymer",
        density_lb_per_gal="8.6", rate_least="1 fl oz/1000 sq ft",
        rate_most="4 fl oz/1000 sq ft", carrier_least_gal_per_1000_ft2="2", ppe=_GLOVES,
        price="31", price_unit="gal", container="2.5 gal",
    ),
]  # fmt: skip

MIXES = rows_of(
    "mix | name | carrier_gal_per_1000_ft2 | new_mix | note",
    "PRE | Crabgrass barrier and feed | 2.5 | no"
    " | Water in within two weeks; no seeding for four months",
    "BROAD | Broadleaf weeds | 1.5 | no | Stay out of the drip line of trees and off beds",
    "GREEN | Green-up feed and iron | 3 | no | Blow clippings and drops off stone and concrete",
    "INSECT | Lawn insects | 3 | no | Water in a quarter inch within two days",
    "DISEASE | Lawn disease | 2 | yes | Brown patch and leaf spot, preventive",
    "TOTAL | Total kill for gravel and bed edges | 1 | no | Spot line only; never on turf",
)

MIX_PRODUCTS = rows_of(
    "mix | product | rate | target",
    "PRE | GATE | 0.46 oz wt/1000 sq ft | crabgrass, annual bluegrass",
    "PRE | UREA28 | 0.5 lb N/1000 sq ft | spring feed",
    "PRE | BLEND | 1 pt/100 gal | keeps the granules from clumping in fertilizer",
    "BROAD | TRIO | 1.3 fl oz/1000 sq ft | dandelion, clover, plantain",
    "BROAD | STICK | 0.25 % v/v | spreads on waxy leaves",
    "BROAD | CALM | 1 fl oz/100 gal | foam",
    "GREEN | FEED18 | 0.4 lb N/1000 sq ft | spring feed",
    "GREEN | IRON6 | 3 fl oz/1000 sq ft | color without growth",
    "INSECT | SHIELD | 0.5 fl oz/1000 sq ft | chinch bugs, ants, ticks",
    "INSECT | SOAK | 2 fl oz/1000 sq ft | carries it through thatch",
    "DISEASE | PROPI | 1 fl oz/1000 sq ft | brown patch, leaf spot",
    "DISEASE | AZO50 | 0.2 oz wt/1000 sq ft | brown patch",
    "TOTAL | CLEAR | 2 % v/v | all growth",
    "TOTAL | STICK | 0.25 % v/v | wets the leaf",
    "TOTAL | MARK | 0.5 fl oz/gal | shows what has been sprayed",
)

KEEP_APART = rows_of(
    "a | b | scope | why",
    "non-selective herbicide | any other | line"
    " | A hose that held it kills the next lawn; its tank, pump, hose and gun serve nothing else",
    "broadleaf herbicide | insecticide | line"
    " | The insecticide goes along flower beds, and a trace of this weedkiller bends them",
    "broadleaf herbicide | fungicide | compartment"
    " | A sick lawn is not to get weedkiller with its cure",
    "iron | broadleaf herbicide | compartment | Iron blackens the amines and sets sludge",
    "iron | pre-emergent herbicide | compartment | Iron clots the suspension in the screens",
)
