"""What a site adds to the weather: sizes that trials have found, and where to look first where none has.

These stand beside a weather score and a chance and change neither. A modifier says how much more or less disease trials
found on turf of one kind than on another, as a range within bounds. Where trials or handbooks name a direction without
a size, there is no multiplier: the area only moves up in the order of scouting.

Shade, density and watering act on the weather models already, through the wet hours that they add. Evening watering
is therefore no multiplier.
"""

from __future__ import annotations

from dataclasses import dataclass

from forecast.diseases.scouting_reasons import SCOUTING
from forecast.diseases.site_form import Modifier, ScoutingReason, every_area, has_cultivar, has_nitrogen, is_watered
from forecast.turf import DISEASES, Area

_POWLEN_FIELD = "Powlen, Kerns, Fidanza & Bigelow 2024, Crop Prot., art. 106790 (abstract)"
_POWLEN_CHAMBER = "Powlen, Kerns, Fidanza & Bigelow 2024, Crop Sci., a controlled environment (abstract)"
_BUTLER = "Butler, Galle & Kerns 2019, DOI 10.2134/cftm2019.03.0018 (abstract)"
_FIDANZA_DERNOEDEN = "Fidanza & Dernoeden 1996, Crop Sci. 36:1620-1630 (abstract)"
_BURPEE = "Burpee 1995, DOI 10.1094/PD-79-0721 (abstract)"
_SETTLE = "Settle, Fry & Tisserat 2001, Plant Dis. 85:543-546 (abstract)"
_WILLIAMS = "Williams, Burrus & Vincelli 2001, Crop Sci. 41:1207-1211 (abstract)"

MODIFIERS: tuple[Modifier, ...] = (
    Modifier(
        "brown_patch",
        ("tall_fescue",),
        "cultivar",
        has_cultivar("resistant"),
        0.4,
        0.57,
        "resistant tall fescue had 43 to 61 % less than the most susceptible; more than 60 % less is not counted on",
        f"{_POWLEN_FIELD}: 61 % less over two seasons; Yuen, Giesler & Horst 1994, Crop Prot. 13:439-442: 34 against "
        "60 % blight (abstract)",
    ),
    Modifier(
        "brown_patch",
        ("tall_fescue",),
        "cultivar",
        has_cultivar("susceptible"),
        1.0,
        1.0,
        "the susceptible tall fescue that trials compare others with",
        _POWLEN_FIELD,
    ),
    Modifier(
        "brown_patch",
        ("creeping_bentgrass",),
        "nitrogen",
        has_nitrogen("low"),
        0.83,
        0.83,
        "17 % less with 49 than with 196 kg/ha of nitrogen",
        _POWLEN_CHAMBER,
    ),
    Modifier(
        "brown_patch",
        ("perennial_ryegrass",),
        "nitrogen",
        has_nitrogen("low"),
        0.67,
        0.67,
        "33 % less with 49 than with 196 kg/ha of nitrogen",
        _POWLEN_CHAMBER,
    ),
    Modifier(
        "brown_patch",
        ("colonial_bentgrass",),
        "nitrogen",
        has_nitrogen("low"),
        1.0,
        1.0,
        "in general as much with 49 as with 196 kg/ha of nitrogen",
        _POWLEN_CHAMBER,
    ),
    Modifier(
        "brown_patch",
        ("tall_fescue",),
        "nitrogen",
        has_nitrogen("low"),
        1.0,
        1.0,
        "in general as much with 73.5 as with 245 kg/ha of nitrogen; an older trial had less without any on some dates",
        f"{_POWLEN_FIELD}; {_BURPEE}",
    ),
    Modifier(
        "brown_patch",
        ("tall_fescue",),
        "nitrogen",
        has_nitrogen("high"),
        1.0,
        1.6,
        "trials disagree: no more up to 245 kg/ha of nitrogen in one, more only at 294 and in one year of two in "
        "another, several times as much at 220 in a third; more than 60 % more is not counted on",
        f"{_POWLEN_FIELD}; {_BUTLER}; Fry, Chhetri & Pease, brown patch on tall fescue as influenced by nitrogen and "
        "fungicide applications, summer of 2023 (abstract)",
    ),
    Modifier(
        "brown_patch",
        ("perennial_ryegrass", "tall_fescue"),
        "mowing",
        every_area,
        1.0,
        1.0,
        "height of cut counts for nothing: low turf had more in one year and less in the other, in both trials",
        f"{_FIDANZA_DERNOEDEN}: 1.7 against 4.5 cm; {_BURPEE}: 3.8 against 8.9 cm",
    ),
    Modifier(
        "brown_patch",
        DISEASES["brown_patch"].grasses,
        "irrigation",
        is_watered,
        1.0,
        1.0,
        "watering counts through the wet hours that it adds: evening watering gave more than morning watering, daily "
        "as much as every other day",
        f"{_FIDANZA_DERNOEDEN}; {_SETTLE}",
    ),
    Modifier(
        "gray_leaf_spot",
        ("perennial_ryegrass",),
        "mowing",
        every_area,
        1.0,
        1.0,
        "height of cut counts for nothing: as much at 1.9 as at 6.4 cm",
        _WILLIAMS,
    ),
)


@dataclass(frozen=True, slots=True)
class ScoutingWeight:
    """How early an area comes in a round of scouting.

    Attributes:
        weight: number of reasons; it orders areas and means nothing else.
        reasons: each with its source.
    """

    weight: int
    reasons: tuple[ScoutingReason, ...]


def modifiers_for(area: Area, disease: str) -> tuple[Modifier, ...]:
    """The modifiers that hold for an area; what is not known about it gives none.

    Args:
        area: with its ground and setting.
        disease: a key of :data:`forecast.turf.DISEASES`.
    """
    return tuple(one for one in MODIFIERS if _applies(one, area, disease))


def scouting_weight(area: Area, disease: str) -> ScoutingWeight:
    """How early to look at an area, and why; what is not known about it gives no reason.

    Args:
        area: with its ground and setting.
        disease: a key of :data:`forecast.turf.DISEASES`.
    """
    reasons = tuple(one for one in SCOUTING if _applies(one, area, disease))
    return ScoutingWeight(len(reasons), reasons)


def _applies(one: Modifier | ScoutingReason, area: Area, disease: str) -> bool:
    return one.disease == disease and area.grass in one.grasses and one.holds(area)
