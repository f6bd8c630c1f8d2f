"""Results as JSON: a page by the versioned schema in ``morning.schema.json``, a station check by its own number."""

from __future__ import annotations

import dataclasses
import json
from datetime import date, datetime
from typing import Any


def json_text(result: Any) -> str:
    """A result, a frozen dataclass, as JSON text; dates and moments in ISO 8601, moments with their offset."""
    return json.dumps(plain(result), ensure_ascii=False, indent=2, allow_nan=False)


def plain(value: Any) -> Any:
    """Dataclasses, tuples and dates as what JSON knows."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, (tuple, list)):
        return [plain(item) for item in value]
    if isinstance(value, (date, datetime)):
        return value.isoformat()
    return value
