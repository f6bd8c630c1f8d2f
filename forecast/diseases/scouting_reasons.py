"""Where to look first: what trials and handbooks name as worse without a size, each with its source."""

from __future__ import annotations

from collections.abc import Callable

from forecast.diseases.site_form import (
    Reads,
    ScoutingReason,
    drains_poorly,
    has_cultivar,
    has_nitrogen,
    has_thick_thatch,
    is_compacted,
    is_dense,
    is_shaded,
    is_watered_often,
)
from forecast.turf import DISEASES, Area

_FIDANZA_DERNOEDEN = "Fidanza & Dernoeden 1996, Crop Sci. 36:1620-1630 (abstract)"
_WILLIAMS = "Williams, Burrus & Vincelli 2001, Crop Sci. 41:1207-1211 (abstract)"
_OREGON = "Oregon State University tall fescue monograph (read second-hand)"
_EXTENSION = "extension notes, without a size (read second-hand)"

_GROUND: tuple[tuple[Reads, Callable[[Area], bool], str], ...] = (
    ("drainage", drains_poorly, "water drains poorly here"),
    ("compaction", is_compacted, "the ground is compacted"),
)

SCOUTING: tuple[ScoutingReason, ...] = (
    *(
        ScoutingReason(disease, DISEASES[disease].grasses, reads, holds, words, source)
        for disease, source in (
            ("brown_patch", f"{_OREGON}; {_EXTENSION}"),
            ("pythium_blight", _EXTENSION),
            ("large_patch", f"Obasa et al. 2014, Golf Course Management (read second-hand); {_EXTENSION}"),
        )
        for reads, holds, words in _GROUND
    ),
    ScoutingReason(
        "brown_patch",
        DISEASES["brown_patch"].grasses,
        "thatch",
        has_thick_thatch,
        "the thatch is thick, and the fungus starts in thatch",
        "Michigan State University note (read second-hand)",
    ),
    ScoutingReason(
        "pythium_blight",
        DISEASES["pythium_blight"].grasses,
        "thatch",
        has_thick_thatch,
        "the thatch is thick, and Pythium lives on in thatch through the year",
        "Hall, Larsen & Schmitthenner 1980, Plant Dis. 64:1100-1103 (abstract)",
    ),
    ScoutingReason(
        "large_patch",
        DISEASES["large_patch"].grasses,
        "thatch",
        has_thick_thatch,
        "the thatch is thick, and its warmth and moisture drive the disease",
        "Nissen 2015, Texas dissertation (abstract)",
    ),
    ScoutingReason(
        "brown_patch",
        ("tall_fescue",),
        "shade",
        is_shaded,
        "tall fescue that has grown in shade had more, in all ten cultivars of a trial",
        "Zarlengo, Rothrock & King 1994, DOI 10.1094/PD-78-0126 (abstract)",
    ),
    ScoutingReason(
        "brown_patch",
        ("tall_fescue",),
        "density",
        is_dense,
        "the stand is dense: severity went with the density of blades",
        "Giesler, Yuen & Horst 1996, Plant Dis. 80:384-388; Yuen, Giesler & Horst 1994, Crop Prot. 13:439-442 "
        "(abstracts)",
    ),
    ScoutingReason(
        "brown_patch",
        ("perennial_ryegrass",),
        "nitrogen",
        has_nitrogen("high"),
        "ryegrass with 294 kg/ha of nitrogen had more than with 147 in one year of two",
        _FIDANZA_DERNOEDEN,
    ),
    ScoutingReason(
        "gray_leaf_spot",
        ("perennial_ryegrass",),
        "nitrogen",
        has_nitrogen("high"),
        "nitrogen raises it: more with 73.2 kg/ha a month than with none",
        _WILLIAMS,
    ),
    ScoutingReason(
        "gray_leaf_spot",
        ("perennial_ryegrass",),
        "irrigation",
        is_watered_often,
        "frequent watering raised it",
        "McDonald 2005, University of Maryland thesis (abstract; the grass taken to be ryegrass)",
    ),
    ScoutingReason(
        "gray_leaf_spot",
        ("st_augustinegrass",),
        "shade",
        is_shaded,
        "shade makes it worse",
        "University of Georgia note (read second-hand)",
    ),
    ScoutingReason(
        "dollar_spot",
        ("creeping_bentgrass",),
        "cultivar",
        has_cultivar("susceptible"),
        "highly susceptible bentgrasses began up to two weeks earlier",
        "Ryan, Dernoeden & Grybauskas 2012, HortScience 47:422-426 (abstract)",
    ),
    ScoutingReason(
        "anthracnose",
        ("annual_bluegrass",),
        "nitrogen",
        has_nitrogen("low"),
        "feeding 200 in place of 100 kg/ha of nitrogen lowered it most of all that was tried",
        "Rutgers University abstracts (partly read second-hand)",
    ),
)
