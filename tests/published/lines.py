"""The comparisons, a line for each figure; the source of each stands in its row of fixtures/published_yields.csv."""

from __future__ import annotations

from collections.abc import Iterator

from orders.yields.constants import Basis
from tests.published.comparisons import (
    AGED_IN_BULLETIN,
    BALANCE,
    CHAIN,
    Line,
    all_told,
    boneless,
    carcass,
    carcass_of,
    dressed,
    fat_of_sausage,
    held,
    left_over,
    leg,
    live_for,
    sausage,
    share_lost,
    shot_of_carcass,
    spread,
)

LIVE, FEET_ON, FEET_OFF = Basis.LIVE, Basis.DRESSED_FEET_ON, Basis.DRESSED_FEET_OFF
# Girth in inches at which two published regressions of one herd are set against each other.
GIRTHS = (34, 38, 42)
# Hide with head and lower legs, bones, skins and fat, drying while cutting, boneless meat of one roe deer, in kg.
ROE = (3.19, 3.48, 1.00, 0.37, 7.96)
ROE_ROWS = ("Y147", "Y148", "Y149", "Y150")


def to_dressed() -> Iterator[Line]:
    """Live to field-dressed."""
    yield spread(
        "Y004", "live weight of 105 lb dressed", "105 126 141", live_for("white-tailed-deer", 105), (126, 141)
    )
    for girth in GIRTHS:
        live, hog = 6.5520 * girth - 95.0128, 5.6037 * girth - 94.0982
        what = f"dressed weight of the live weight that Y008 gives for a girth of {girth} in"
        run = boneless("white-tailed-deer", live, LIVE, only=dressed)
        yield held("Y007", what, "5.6037 94.0982", run, hog)
    for row, live, hog in (("Y024", 128, 99), ("Y025", 162, 126)):
        run = boneless("white-tailed-deer", live, LIVE, only=dressed)
        yield held(row, f"dressed weight of {live} lb live (from memory)", f"{live} {hog}", run, hog)
    # Printed in tens of pounds.
    for live, hog in ((150, 120), (250, 190)):
        run = boneless("mule-deer", live, LIVE, only=dressed)
        yield spread("Y045", f"dressed weight of {live} lb live", f"{live} {hog}", run, (hog - 5, hog + 5))
    run = boneless("pronghorn", 100, LIVE, only=dressed, animal_class="male-adult")
    yield spread("Y074", "dressed share of mature males among the classes", "66 75", run, (66, 75))
    for hog in (80, 85, 90, 95):
        what = f"live weight of {hog} lb dressed by the regression of males"
        run = live_for("pronghorn", hog, "male-adult")
        yield held("Y080", what, "16.7496 1.1732", run, 16.7496 + 1.1732 * hog)


def to_carcass() -> Iterator[Line]:
    """Live or dressed to the skinned carcass."""
    run = boneless("white-tailed-deer", 100, FEET_ON, only=carcass)
    yield held("Y021", "carcass of 100 lb dressed (from memory)", "1.331", run, 100 / 1.331)
    for row, percent in (("Y068", 58.7), ("Y069", 59.3)):
        yield held(row, "hot carcass, percent of live", str(percent), carcass_of("elk", 100), percent)
    for live, hot in ((301.9, 177.4), (327.8, 194.6)):
        yield held(
            "Y071", f"hot carcass of {live} kg live (Y068, Y069)", str(hot), carcass_of("elk", live), hot
        )
    # Printed in whole kilograms.
    yield spread("Y101", "carcass of 43 kg live", "43 25", carcass_of("fallow-deer", 43), (24.5, 25.5))
    for row, low, high in (("Y110", 58.6, 61.8), ("Y117", 57.2, 61.5), ("Y128", 51.3, 62.8)):
        run = carcass_of("fallow-deer", 100)
        yield spread(row, "carcass, percent of live", f"{low} {high}", run, (low, high))
    yield held("Y119", "cold carcass of 47.4 kg live", "47.4 29.2", carcass_of("fallow-deer", 47.4), 29.2)
    yield held("Y121", "carcass, percent of live", "61.5", carcass_of("fallow-deer", 100), 61.5)
    yield spread("Y133", "carcass, percent of live", "58 62", carcass_of("rusa-deer", 100), (58, 62))
    yield held("Y136", "carcass, percent of live", "50.17", carcass_of("sambar", 100), 50.17)
    run = carcass_of("impala", 49.4)
    yield spread(
        "Y137",
        "cold carcass of 49.4 kg live, one standard deviation",
        "49.4 27.6 2.551",
        run,
        (25.049, 30.151),
    )


def to_boneless() -> Iterator[Line]:
    """To boneless meat, its parts, and what the shot costs."""
    run = boneless("white-tailed-deer", 100, Basis.HANGING, only=lambda shipped: shipped, hung_days=5)
    yield held("Y023", "realistic boneless of 100 lb carcass, 0.67 x 0.70 (from memory)", "0.7", run, 46.9)
    run = boneless("pronghorn", 77.5, FEET_ON, hung_days=3)
    yield spread(
        "Y072", "boned out of 75 to 80 lb dressed, cut on day 3 (Y168)", "75 80 35 40", run, (35, 40)
    )
    yield held("Y131", "leg meat, percent of all meat", "42.38", leg, 42.38)
    run = boneless("roe-deer", 16.0, FEET_ON, unit=1_000_000)
    yield held("Y151", "boneless of 16.0 kg gralloched, cut at once", "16.0 7.96", run, 7.96)
    yield held("Y189", "unfit through the shot, percent of the carcass", "13.9", shot_of_carcass, 13.9)


def of_bulletins() -> Iterator[Line]:
    """Tables that the bulletins made with one factor rounded to two decimals: W x 0.48 or W x 0.50, in whole pounds."""
    deer = {"Y036": (102, 49), "Y037": (150, 72), "Y040": (85, 41)}
    elk = {
        "Y059": (280, 140),
        "Y060": (337, 168),
        "Y061": (400, 200),
        "Y063": (540, 270),
        "Y064": (244, 122),
        "Y065": (304, 152),
        "Y066": (359, 179),
    }
    for species, rows in (("mule-deer", deer), ("elk", elk)):
        for row, (weight, lean) in rows.items():
            rounding = 0.5 + 0.005 * weight
            run = boneless(species, weight, FEET_OFF, hung_days=AGED_IN_BULLETIN)
            what = f"boneless of {weight} lb dressed, feet off"
            yield spread(row, what, f"{weight} {lean}", run, (lean - rounding, lean + rounding), CHAIN)


def balances() -> Iterator[Line]:
    """What one source weighed, in our account; one thing at a time is left out and has to be what is not found."""
    for n, row in enumerate(ROE_ROWS):
        others = [each for place, each in enumerate(ROE[:-1]) if place != n]
        run = left_over(16.0, ROE[-1], others)
        yield _exact(row, "what is missing from the 16.0 kg without it", f"{ROE[n]:.2f}", run, ROE[n])
    yield _exact("Y156", "all of it together", "16.0", all_told(ROE), 16.0)
    yield _exact(
        "Y048",
        "head and hide: 437 lb dressed less the 364 lb that Y051 divides by",
        "73",
        left_over(437, 364, []),
        73,
    )
    yield _exact("Y057", "skin: the same less the head", "34", left_over(437, 364, [39]), 34)
    yield _exact(
        "Y124", "muscle and fat, percent, where 22.1 is bone (Y125)", "77.9", left_over(100, 22.1, []), 77.9
    )
    yield _exact(
        "Y125", "bone, percent, where 78.5 is muscle and fat (Y124)", "21.5", left_over(100, 78.5, []), 21.5
    )
    yield spread(
        "Y145",
        "lost in the skin, percent",
        "94.7 92.38 2.45",
        share_lost(94.7, 92.38),
        (2.445, 2.455),
        BALANCE,
    )
    yield spread(
        "Y182",
        "lost in the first chill, percent",
        "29.6 1.35",
        share_lost(29.6, 29.2),
        (1.345, 1.355),
        BALANCE,
    )
    yield _exact("Y208", "own venison in 25 lb of summer sausage, lb", "15", sausage, 15)
    yield _exact("Y209", "fat added to it, percent", "20", fat_of_sausage, 20)


def _exact(row: str, what: str, printed: str, run: object, figure: float) -> Line:
    """The last printed digit of each number may be rounded."""
    return spread(row, what, printed, run, (figure - 0.01, figure + 0.01), BALANCE)  # type: ignore[arg-type]


LINES = [*to_dressed(), *to_carcass(), *to_boneless(), *of_bulletins(), *balances()]
