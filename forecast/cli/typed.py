"""Amounts on the command line: read by :mod:`forecast.amounts`, refused as a usage error with its sentence."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import click


class Typed(click.ParamType[Any]):
    """What a reader makes of a text; the reader's ValueError is told to the person."""

    def __init__(self, name: str, reader: Callable[[str], Any]) -> None:
        self.name, self._reader = name, reader

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """What the reader makes of it."""
        if not isinstance(value, str):
            return value
        try:
            return self._reader(value)
        except ValueError as error:
            self.fail(str(error), param, ctx)


def _in(units_name: str) -> Callable[[str], float]:
    """A reader of amounts in one of the tables of :mod:`forecast.amounts`, which is imported when it is first read."""

    def read(text: str) -> float:
        from forecast import amounts

        units: Mapping[str, float] = getattr(amounts, units_name)
        number, unit = amounts.typed(text, units)
        return number * units[unit]

    return read


def _by(reader_name: str) -> Callable[[str], Any]:
    def read(text: str) -> Any:
        from forecast import amounts

        return getattr(amounts, reader_name)(text)

    return read


SURFACE = Typed("surface", _in("SURFACE_M2"))  # m²
VOLUME = Typed("volume", _in("VOLUME_L"))  # L
LENGTH = Typed("length", _in("LENGTH_M"))  # m
SPEED = Typed("speed", _in("SPEED_M_S"))  # m/s
FLOW = Typed("flow", _in("FLOW_L_S"))  # L/s
SECONDS = Typed("time", _in("TIME_S"))  # s
RATE = Typed("rate", _by("rate"))
CARRIER = Typed("mix", _by("carrier"))
