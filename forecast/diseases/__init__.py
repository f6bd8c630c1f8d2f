"""The catalogue of disease models: one file a model, one line here."""

from __future__ import annotations

from types import MappingProxyType

from forecast.diseases.brown_patch_infection import BROWN_PATCH_INFECTION
from forecast.diseases.danneberger_1984 import DANNEBERGER_1984
from forecast.diseases.declare import DiseaseModel
from forecast.diseases.fidanza_1996 import FIDANZA_1996
from forecast.diseases.fidanza_1996_conditions import FIDANZA_1996_CONDITIONS
from forecast.diseases.gray_leaf_spot_infection import GRAY_LEAF_SPOT_INFECTION
from forecast.diseases.gray_leaf_spot_st_augustine import GRAY_LEAF_SPOT_ST_AUGUSTINE
from forecast.diseases.gray_snow_mold_cover import GRAY_SNOW_MOLD_COVER
from forecast.diseases.large_patch_autumn import LARGE_PATCH_AUTUMN
from forecast.diseases.large_patch_spring import LARGE_PATCH_SPRING
from forecast.diseases.microdochium_cool_wet import MICRODOCHIUM_COOL_WET
from forecast.diseases.nutter_1983 import NUTTER_1983
from forecast.diseases.pfender_2003 import PFENDER_2003
from forecast.diseases.schumann_1994 import SCHUMANN_1994
from forecast.diseases.shane_1994 import SHANE_1994
from forecast.diseases.smith_2018 import SMITH_2018
from forecast.diseases.spring_dead_spot_autumn import SPRING_DEAD_SPOT_AUTUMN
from forecast.diseases.summer_patch_spring import SUMMER_PATCH_SPRING
from forecast.diseases.take_all_window import TAKE_ALL_WINDOW
from forecast.diseases.warm_wet_night import WARM_WET_NIGHT

_ALL: tuple[DiseaseModel, ...] = (
    FIDANZA_1996,
    WARM_WET_NIGHT,
    SCHUMANN_1994,
    FIDANZA_1996_CONDITIONS,
    BROWN_PATCH_INFECTION,
    SMITH_2018,
    NUTTER_1983,
    SHANE_1994,
    GRAY_LEAF_SPOT_ST_AUGUSTINE,
    GRAY_LEAF_SPOT_INFECTION,
    DANNEBERGER_1984,
    LARGE_PATCH_AUTUMN,
    LARGE_PATCH_SPRING,
    SPRING_DEAD_SPOT_AUTUMN,
    SUMMER_PATCH_SPRING,
    MICRODOCHIUM_COOL_WET,
    GRAY_SNOW_MOLD_COVER,
    PFENDER_2003,
    TAKE_ALL_WINDOW,
)

MODELS = MappingProxyType({model.key: model for model in _ALL})

__all__ = ["MODELS", "DiseaseModel"]
