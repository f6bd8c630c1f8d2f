"""TOML files through typed forms: every mistake at once, by line and key, unknown keys with the nearest known."""

from __future__ import annotations

import difflib
import re
import tomllib
from pathlib import Path
from typing import Any, TypeVar
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import BaseModel, ValidationError

from forecast.errors import Fault, MissingInputError, SettingsError

Form = TypeVar("Form", bound=BaseModel)
MOST_BYTES = 5_000_000  # a settings file is a page or two; more is a mistake


def known_zone(name: str) -> str:
    """A time zone's name, checked.

    Raises:
        ValueError: there is no such zone.
    """
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise ValueError(f"{name!r} is no time zone; one is 'America/New_York'") from error
    return name


def read_toml(path: Path, form: type[Form]) -> Form:
    """A file checked against its form.

    Raises:
        MissingInputError: there is no such file.
        SettingsError: it is no TOML, or does not fit the form.
    """
    try:
        if path.stat().st_size > MOST_BYTES:
            raise SettingsError(f"{path} is larger than a settings file can be", hint="check the path")
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise MissingInputError(f"{path} is not there", hint="check the path, or make the file") from None
    except (OSError, UnicodeDecodeError) as error:
        raise SettingsError(f"{path} cannot be read: {error}", hint="save it as plain UTF-8 text") from error
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        hint = "text stands in quotes, a date is 2026-05-01, a clock time is 06:30:00, and a decimal has a point"
        raise SettingsError(f"{path} is not valid TOML", faults=[Fault(str(error))], hint=hint) from error
    try:
        return form.model_validate(data)
    except ValidationError as error:
        faults = [_fault(detail, form, text) for detail in error.errors()]
        faults.sort(key=lambda fault: fault.line)
        hint = "mend the lines named; the README explains every key"
        raise SettingsError(f"{path} has {len(faults)} mistake(s)", faults=faults, hint=hint) from error


def _fault(detail: Any, form: type[BaseModel], text: str) -> Fault:
    place = tuple(part for part in detail["loc"] if isinstance(part, int) or _IS_KEY.fullmatch(part))
    dotted = "".join(f"[{part + 1}]" if isinstance(part, int) else f".{part}" for part in place).lstrip(".")
    message = detail["msg"].removeprefix("Value error, ")
    if detail["type"] == "extra_forbidden":
        near = difflib.get_close_matches(str(place[-1]), _known_keys(form), n=1)
        message = "no such key" + (f"; did you mean {near[0]!r}?" if near else "")
    elif detail["type"] == "missing":
        message = "this key is missing"
    elif detail["type"] in ("model_type", "model_attributes_type", "dict_type"):
        message = f'wants a table of its own, such as {{ amount = 2.0, unit = "..." }} (found {detail["input"]!r})'
    elif not isinstance(detail["input"], dict):
        message = f"{message} (found {detail['input']!r})"
    return Fault(message, line_of(text, place), dotted)


_IS_KEY = re.compile(r"[a-z_0-9]+")  # what is no key of the file names a form of ours


def _known_keys(form: type[BaseModel]) -> list[str]:
    keys: list[str] = []
    for name, field in form.model_fields.items():
        keys.append(field.alias or name)
        for inner in (field.annotation, *getattr(field.annotation, "__args__", ())):
            if isinstance(inner, type) and issubclass(inner, BaseModel):
                keys += _known_keys(inner)
    return keys


_TABLE = re.compile(r"^\s*(\[\[?)\s*([^\]]+?)\s*\]\]?")
_KEY = re.compile(r"""^\s*(["']?)([\w\-.]+)\1\s*=""")


def line_of(text: str, place: tuple[str | int, ...]) -> int:
    """The line on which a dotted place of a TOML text stands, as near as a plain scan finds it; 0 where not."""
    wanted = [str(part) for part in place]
    counts: dict[str, int] = {}
    table: list[str] = []
    best, best_depth = 0, 0
    for number, line in enumerate(text.splitlines(), start=1):
        here = _TABLE.match(line)
        key = _KEY.match(line)
        if here:
            name = here.group(2)
            table = name.split(".")
            if here.group(1) == "[[":
                counts = {known: n for known, n in counts.items() if not known.startswith(f"{name}.")}
                counts[name] = counts.get(name, -1) + 1
            table = _numbered(table, counts)
            full = table
        elif key:
            full = table + key.group(2).split(".")
        else:
            continue
        depth = len(full)
        if full == wanted[:depth] and depth > best_depth:
            best, best_depth = number, depth
    return best


def _numbered(table: list[str], counts: dict[str, int]) -> list[str]:
    """Table names with the running number of each array of tables put in, as pydantic counts them."""
    full: list[str] = []
    for depth, part in enumerate(table, start=1):
        full.append(part)
        name = ".".join(table[:depth])
        if name in counts:
            full.append(str(counts[name]))
    return full
