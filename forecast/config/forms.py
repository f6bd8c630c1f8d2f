"""What the forms of every settings file share."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict

from forecast.turf import DISEASES, GRASSES

_ID = re.compile(r"^[a-z0-9][a-z0-9_-]{0,63}$")


def plain_id(name: str) -> str:
    """An id that is safe in a file name, a link and a command."""
    if not _ID.match(name):
        raise ValueError("an id is small letters, digits, - and _, 64 at most")
    return name


PlainId = Annotated[str, AfterValidator(plain_id)]


class Form(BaseModel):
    """A settings form: frozen, and an unknown key is a mistake."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


def known_disease(key: str) -> str:
    """A disease's key, checked."""
    return _known(key, DISEASES, "disease")


def known_grass(key: str) -> str:
    """A grass's key, checked."""
    return _known(key, GRASSES, "grass")


def _known(key: str, known: Mapping[str, object], kind: str) -> str:
    if key not in known:
        near = difflib.get_close_matches(key, known, n=1)
        guess = f"; did you mean {near[0]!r}?" if near else "."
        raise ValueError(f"{key!r} is no {kind} known here{guess} Known are {', '.join(known)}")
    return key
