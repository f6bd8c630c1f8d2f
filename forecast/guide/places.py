"""The kinds of place where disease shows first: where to go, why, and whether an area's settings say it has one."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import time
from types import MappingProxyType

from forecast.guide.form import Source
from forecast.turf import Area

EVENING_FROM = time(15)  # house choice: from then on water runs into a wet night
THICK_THATCH_MM = 12.7  # half an inch; common practice, no source
CLOSE_CUT_MM = 15.0  # house choice: greens, tees and fairways lie below, lawns above
OFTEN_DAYS_A_WEEK = 4  # house choice


@dataclass(frozen=True, slots=True)
class PlaceKind:
    """A kind of place where a disease shows first.

    Attributes:
        key: how the guide names it.
        words: where to go.
        reason: why.
        here: whether an area's settings say that it has such a place; None where they cannot or do not.
        source: whose advice.
    """

    key: str
    words: str
    reason: str
    here: Callable[[Area], bool | None]
    source: Source


def _shaded(area: Area) -> bool:
    return bool(area.setting.shaded_from) or area.setting.light_let_through_fraction < 1


def _still(area: Area) -> bool:
    return area.setting.wind_let_through_fraction < 1


def _evening_water(area: Area) -> bool:
    return area.setting.irrigation is not None and area.setting.irrigation.start >= EVENING_FROM


def _often_watered(area: Area) -> bool:
    return area.setting.irrigation is not None and len(area.setting.irrigation.days) >= OFTEN_DAYS_A_WEEK


def _wet_ground(area: Area) -> bool | None:
    return True if area.ground.drainage == "poor" else None  # a well-drained lawn can have a hollow all the same


def _thick_thatch(area: Area) -> bool | None:
    return None if area.ground.thatch_mm is None else area.ground.thatch_mm > THICK_THATCH_MM


def _fed(level: str) -> Callable[[Area], bool | None]:
    return lambda area: None if area.ground.nitrogen is None else area.ground.nitrogen == level


def _find_out(area: Area) -> bool | None:  # noqa: ARG001 - asked as the others are
    return None


_PRACTICE = Source("", "common practice, no source")
_MISSOURI = Source("University of Missouri Extension IPM1029", "read second-hand")

# In the order that breaks ties: what a scout can walk to comes before what holds for the whole area.
PLACES: Mapping[str, PlaceKind] = MappingProxyType(
    {
        kind.key: kind
        for kind in (
            PlaceKind(
                "water_lines",
                "along the lines in which water runs off, and wheel tracks",
                "Pythium is carried by water and wheels",
                _find_out,
                Source("University of Illinois Extension, Pythium blight", "read second-hand"),
            ),
            PlaceKind(
                "low_wet",
                "low places and wherever water stands",
                "wet ground keeps crowns and air above it wet",
                _wet_ground,
                Source("extension notes on brown patch, Pythium blight and large patch", "read second-hand"),
            ),
            PlaceKind(
                "shade",
                "the shaded part, and the edge of the shade",
                "dew dries last there and the turf is weaker",
                _shaded,
                Source("Zarlengo, Rothrock & King 1994, Plant Dis. 78:126, for brown patch", "abstract read"),
            ),
            PlaceKind(
                "still_air",
                "corners without wind: behind hedges, walls and buildings",
                "still air dries turf slowly",
                _still,
                _PRACTICE,
            ),
            PlaceKind(
                "evening_water",
                "within reach of the sprinklers that run in the evening",
                "evening water makes a long wet night; on ryegrass it had more brown patch than morning water",
                _evening_water,
                Source("Fidanza & Dernoeden 1996, Crop Sci. 36:1620-1630", "abstract read"),
            ),
            PlaceKind(
                "often_watered",
                "where it is watered on most days",
                "often wetted blades give spores their hours",
                _often_watered,
                Source("McDonald 2005, University of Maryland thesis, for gray leaf spot", "abstract read"),
            ),
            PlaceKind(
                "hot_edges",
                "sunny slopes and edges along pavement",
                "heat and drought bring out what ails the roots",
                _find_out,
                Source("Purdue University turf tips, 2009; edges", "read second-hand"),
            ),
            PlaceKind(
                "dry_places",
                "dry knolls and thin ground",
                "dew on dry, slow-growing turf favours it",
                _find_out,
                _PRACTICE,
            ),
            PlaceKind(
                "snow_piles",
                "where snow drifts, is piled or goes last",
                "it grows under long snow",
                _find_out,
                Source("Sherratt, Ohio State University, 2017", "read second-hand"),
            ),
            PlaceKind(
                "new_turf",
                "turf sown or laid in the last years",
                "young turf is attacked first",
                _find_out,
                Source(
                    "University of Massachusetts fact sheets on take-all patch and gray leaf spot", "read second-hand"
                ),
            ),
            PlaceKind(
                "limed",
                "where lime or hard water has gone",
                "take-all patch likes soil that is not acid",
                _find_out,
                Source("Michigan State University, take-all patch", "read second-hand"),
            ),
            PlaceKind(
                "compacted",
                "trodden and driven ground: paths, gates, goal mouths",
                "compacted ground weakens roots and stays wet",
                lambda area: area.ground.compacted,
                Source("Obasa et al. 2014, Golf Course Management, for large patch", "read second-hand"),
            ),
            PlaceKind(
                "thatch",
                "where the thatch is thickest",
                "the fungus lives on in thatch, and thatch holds water at the crown",
                _thick_thatch,
                Source("Michigan State University, brown patch; Purdue University turf tips, 2009", "read second-hand"),
            ),
            PlaceKind(
                "dense",
                "the densest, lushest turf",
                "a dense stand stays wet longer, and threads bridge from blade to blade",
                lambda area: area.setting.density == "dense",
                Source("Giesler, Yuen & Horst 1996, Plant Dis. 80:384-394", "abstract read"),
            ),
            PlaceKind(
                "close_cut",
                "the lowest cut and the clean-up lap",
                "low cut and turning wheels weaken it",
                lambda area: area.setting.mowing_height_mm < CLOSE_CUT_MM,
                Source("University of Illinois Extension, anthracnose", "read second-hand"),
            ),
            PlaceKind(
                "long_grass",
                "grass that went into winter long",
                "long grass mats under snow",
                _find_out,
                _PRACTICE,
            ),
            PlaceKind(
                "high_nitrogen",
                "the greenest stripes, and turf fed lately",
                "soft, much fed growth is attacked more readily",
                _fed("high"),
                Source("extension notes; a trial on ryegrass by Fidanza & Dernoeden 1996", "read second-hand"),
            ),
            PlaceKind(
                "low_nitrogen",
                "pale, hungry turf",
                "turf that grows slowly does not outgrow it",
                _fed("low"),
                _MISSOURI,
            ),
        )
    }
)
