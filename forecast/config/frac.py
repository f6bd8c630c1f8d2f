"""Resistance groups: the list that is shipped, or the workspace's own ``frac_codes.toml`` in its place."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from forecast.config.forms import Form
from forecast.toml_file import read_toml

FRAC_FILE = "frac_codes.toml"
_SHIPPED = Path(__file__).with_name(FRAC_FILE)


class FracCode(Form):
    """``[[code]]``: one resistance group; ``many_sites`` where resistance to it is not expected."""

    code: Annotated[str, Field(min_length=1)]
    group: str
    risk: str
    many_sites: bool = False


class FracList(Form):
    """``frac_codes.toml``."""

    schema_: Literal[1] = Field(alias="schema")
    year: Annotated[int, Field(ge=2000, le=2200)]
    code: list[FracCode]

    @model_validator(mode="after")
    def _distinct(self) -> Self:
        codes = [one.code.casefold() for one in self.code]
        if len(set(codes)) != len(codes):
            raise ValueError("a code stands there twice")
        return self


def frac_codes(folder: Path) -> Mapping[str, FracCode]:
    """Groups by code in small letters: the workspace's own list where it has one.

    Raises:
        SettingsError: its list is damaged.
    """
    own = folder / FRAC_FILE
    return _codes(own, own.stat().st_mtime_ns) if own.exists() else _codes(_SHIPPED, 0)


@cache
def _codes(path: Path, _changed: int) -> Mapping[str, FracCode]:
    return MappingProxyType({one.code.casefold(): one for one in read_toml(path, FracList).code})
