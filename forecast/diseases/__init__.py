"""The catalogue of disease models: one file a model, one line here."""

from __future__ import annotations

from types import MappingProxyType

from forecast.diseases.declare import DiseaseModel
from forecast.diseases.fidanza_1996 import FIDANZA_1996
from forecast.diseases.smith_2018 import SMITH_2018
from forecast.diseases.warm_wet_night import WARM_WET_NIGHT

_ALL: tuple[DiseaseModel, ...] = (
    FIDANZA_1996,
    WARM_WET_NIGHT,
    SMITH_2018,
)

MODELS = MappingProxyType({model.key: model for model in _ALL})

__all__ = ["MODELS", "DiseaseModel"]
