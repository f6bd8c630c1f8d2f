"""Every table of a workspace's database, in one place, so that a new one is made whole."""

from __future__ import annotations

import sqlalchemy as sa

METADATA = sa.MetaData()

VERSION = sa.Table("schema_version", METADATA, sa.Column("version", sa.Integer, primary_key=True))

BLOCKS = sa.Table(
    "weather_block",
    METADATA,
    sa.Column("station_id", sa.String, primary_key=True),
    sa.Column("quantity", sa.String, primary_key=True),
    sa.Column("month", sa.String(7), primary_key=True),
    sa.Column("block", sa.LargeBinary, nullable=False),
)

IMPORTS = sa.Table(
    "weather_import",
    METADATA,
    sa.Column("import_id", sa.Integer, primary_key=True),
    sa.Column("station_id", sa.String, nullable=False),
    sa.Column("imported_utc", sa.String, nullable=False),
    sa.Column("source", sa.String, nullable=False),
    sa.Column("attribution", sa.String, nullable=False),
    sa.Column("first_hour_utc", sa.String, nullable=False),
    sa.Column("last_hour_utc", sa.String, nullable=False),
)


def _common() -> list[sa.Column[object]]:
    return [
        sa.Column("record_id", sa.Integer, primary_key=True),
        sa.Column("recorded_utc", sa.String, nullable=False),
        sa.Column("area_id", sa.String, nullable=False),
        sa.Column("happened_utc", sa.String, nullable=False),
        sa.Column("happened_on", sa.String, nullable=False),  # the local date
        sa.Column("by_whom", sa.String, nullable=False),
        sa.Column("note", sa.String, nullable=False),
        sa.Column("amends", sa.Integer),
        sa.Column("void_reason", sa.String),
    ]


APPLICATIONS = sa.Table(
    "application",
    METADATA,
    *_common(),
    sa.Column("label_key", sa.String, nullable=False),
    sa.Column("label_json", sa.String, nullable=False),  # the label as it stood
    sa.Column("diseases_json", sa.String, nullable=False),
    sa.Column("condition", sa.String, nullable=False),  # which row of the label: preventive, established, …
    sa.Column("grass", sa.String, nullable=False),  # of the area at the time
    sa.Column("size_m2", sa.Float, nullable=False),
    sa.Column("amount", sa.Float),  # product in the label's measure; empty where it was not written down
    sa.Column("deviations_json", sa.String, nullable=False),  # where it departs from the label, in words
)

SCOUTINGS = sa.Table(
    "scouting",
    METADATA,
    *_common(),
    sa.Column("disease", sa.String, nullable=False),  # empty: looked, and nothing seen
    sa.Column("sure", sa.Boolean, nullable=False),
    sa.Column("severity_pct", sa.Float),
)

# INSERT OR REPLACE deletes without asking the delete trigger, so a number that is taken is refused before it.
_REFUSED = {
    "UPDATE": "",
    "DELETE": "",
    "INSERT": "WHEN EXISTS (SELECT 1 FROM {table} WHERE record_id = NEW.record_id)",
}

for _table in (APPLICATIONS, SCOUTINGS):
    for _act, _when in _REFUSED.items():
        sa.event.listen(
            _table,
            "after_create",
            sa.DDL(  # type: ignore[no-untyped-call]
                f"CREATE TRIGGER {_table.name}_no_{_act.lower()} BEFORE {_act} ON {_table.name} "
                f"{_when.format(table=_table.name)} BEGIN SELECT RAISE(ABORT, 'records are append-only'); END"
            ).execute_if(dialect="sqlite"),
        )
