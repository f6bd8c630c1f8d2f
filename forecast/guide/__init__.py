"""The scouting guide: one entry a disease, by its key; what is taken for disease; where to look first.

Facts were read in extension notes and handbooks, mostly second-hand, and each entry names them; none of it is a
diagnosis.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from forecast.guide import cold_diseases, leaf_diseases, root_diseases, summer_blights
from forecast.guide.form import GuideEntry, Source

GUIDE: Mapping[str, GuideEntry] = MappingProxyType(
    {
        entry.disease: entry
        for entry in (
            *summer_blights.ENTRIES,
            *leaf_diseases.ENTRIES,
            *root_diseases.ENTRIES,
            *cold_diseases.ENTRIES,
        )
    }
)

# What to do when the field check does not settle it, for every disease.
SAMPLE = (
    "Before anything is applied, cut two plugs a few inches across and two to three inches deep at the edge of a "
    "patch, half of each still green, with roots and soil. Wrap the soil in foil, leave the blades free, add no water, "
    "and send them early in the week, overnight, to a plant diagnostic lab, with photographs from afar and near, the "
    "grass, the weather, and what was applied in the last month."
)
SAMPLE_SOURCES = (
    Source(
        "Rimelspach & Ellis, Ohio State University HYG-3087; Kansas State University sample notes", "read second-hand"
    ),
    Source("O'Brien & Hartwiger 2010, after the North Carolina State diagnostic lab", "read second-hand"),
)

__all__ = ["GUIDE", "SAMPLE", "SAMPLE_SOURCES", "GuideEntry", "Source"]
