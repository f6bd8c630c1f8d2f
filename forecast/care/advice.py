"""Care advice for one area on one day: watering, mowing, nitrogen, shade, thatch, compaction, drainage.

Advice is given only where it follows from the day's figures, or from what is set for the area and the season.
"""

from __future__ import annotations

from forecast.care.facts import Advice, CareFacts
from forecast.care.nitrogen import nitrogen
from forecast.care.watering import watering
from forecast.care.words import depth_words, span_words
from forecast.turf import GRASSES, Area
from forecast.units import MM_PER_IN

# Grasses that common practice, no source, mows at 3 to 4 in as lawns; the others are cut lower, each its own way.
LAWN_GRASSES = (
    "tall_fescue",
    "fine_fescue",
    "perennial_ryegrass",
    "kentucky_bluegrass",
    "st_augustinegrass",
)
LAWN_LEAST_MM, LAWN_MOST_MM = 3 * MM_PER_IN, 4 * MM_PER_IN  # common practice, no source
MOWER_NOTCH_MM = 0.25 * MM_PER_IN  # house choice: nearer than a mower's notch is not outside
GREEN_BELOW_MM = 25.0  # house choice: cut lower it is a green, tee or fairway, with rules of its own
SHADED_BELOW_FRACTION = 0.7  # house choice: of light or wind
THATCH_FROM_MM = 0.5 * MM_PER_IN  # common practice, no source
_MORNING_SIDES = ("ne", "e", "se")

_MOWING = (
    "3 to 4 in for lawns and a third at a time are common practice, no source; heights in trials: Fidanza & Dernoeden "
    "1996, Crop Sci. 36:1620-1630, and Burpee 1995, Plant Dis. 79:721 (abstracts)"
)
_SHADE = (
    "Zarlengo, Rothrock & King 1994, Plant Dis. 78:126; Koh et al. 2003, Crop Sci. 43:2182 (abstracts); pruning is "
    "common practice, no source"
)
_NO_SIZE = "extension notes, read second-hand; common practice"
_SEASON = {True: "early autumn", False: "early summer"}  # common practice, no source: when the grass heals fastest


def care(area: Area, facts: CareFacts, *, us: bool) -> tuple[Advice, ...]:
    """Care advice, the day's water first.

    Args:
        area: the area with its setting and ground.
        facts: what is known of it today.
        us: inches and pounds, else millimetres and kilograms.
    """
    if not facts.growing:
        return ()
    told = (mowing(area, us=us), nitrogen(area, facts.diseases_up, us=us), shade(area, facts), thatch(area, us=us))
    below = (compaction(area), drainage(area))
    return watering(area, facts, us=us) + tuple(one for one in told + below if one is not None)


def mowing(area: Area, *, us: bool) -> Advice | None:
    """Where a lawn is cut outside common practice; never for greens and fairways."""
    height_mm = area.setting.mowing_height_mm
    usual = LAWN_LEAST_MM - MOWER_NOTCH_MM <= height_mm <= LAWN_MOST_MM + MOWER_NOTCH_MM
    if area.grass not in LAWN_GRASSES or height_mm < GREEN_BELOW_MM or usual:
        return None
    way = "Raise" if height_mm < LAWN_LEAST_MM else "Lower"
    heights = span_words(LAWN_LEAST_MM, LAWN_MOST_MM, us=us)
    text = f"{way} the cut to {heights} if this is a lawn, a third of the leaf at a time at most."
    why = (
        f"It is set to {depth_words(height_mm, us=us)}. This is for roots and summer stress; against brown patch two "
        "trials found now the higher, now the lower cut better."
    )
    return Advice("mowing", text, why, _MOWING)


def shade(area: Area, facts: CareFacts) -> Advice | None:
    """Where light or wind is set to be kept off."""
    setting = area.setting
    if min(setting.light_let_through_fraction, setting.wind_let_through_fraction) >= SHADED_BELOW_FRACTION:
        return None
    sides = [side for side in setting.shaded_from if side in _MORNING_SIDES]
    where = f", first on the {', '.join(side.upper() for side in sides)}, where the morning sun stands" if sides else ""
    text = f"Look here first, and let light and air in by pruning or thinning{where}."
    wet = (
        "The page's wet hours know of it" if facts.wet_hours_know_setting else "The page's wet hours do not know of it"
    )
    why = (
        "It is set as shaded or sheltered. Shade had more brown patch on all ten tall fescue cultivars tried; blocked "
        f"air warms the turf. {wet}; the damp, still air that may stand there is in no figure."
    )
    return Advice("shade", text, why, _SHADE)


def thatch(area: Area, *, us: bool) -> Advice | None:
    """Where the thatch is set thicker than common practice lets it grow."""
    thick_mm = area.ground.thatch_mm
    if thick_mm is None or thick_mm <= THATCH_FROM_MM:
        return None
    text = f"Thin the thatch in {_SEASON[GRASSES[area.grass].cool_season]}, when the grass heals fastest."
    why = f"It is set to {depth_words(thick_mm, us=us)}; above {depth_words(THATCH_FROM_MM, us=us)} it holds water."
    return Advice("thatch", text, why, "common practice, no source; it is in no figure on this page")


def compaction(area: Area) -> Advice | None:
    """Where the ground is set as compacted."""
    if not area.ground.compacted:
        return None
    text = f"Open the ground by coring in {_SEASON[GRASSES[area.grass].cool_season]}, when the grass heals fastest."
    why = "It is set as compacted, which favors brown patch, Pythium blight and large patch; no trial tells how much."
    return Advice("compaction", text, why, _NO_SIZE)


def drainage(area: Area) -> Advice | None:
    """Where the ground is set to drain poorly."""
    if area.ground.drainage != "poor":
        return None
    text = "Look where water stands first; mend the drainage, and water it less often than the rest."
    why = (
        "It is set to drain poorly, which favors brown patch, Pythium blight and large patch; no trial tells how much, "
        "so it is in no figure on this page."
    )
    return Advice("drainage", text, why, _NO_SIZE)
