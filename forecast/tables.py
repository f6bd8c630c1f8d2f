"""Every table of a workspace's database, in one place, so that a new one is made whole."""

from __future__ import annotations

import sqlalchemy as sa

METADATA = sa.MetaData()

VERSION = sa.Table("schema_version", METADATA, sa.Column("version", sa.Integer, primary_key=True))

PROVIDERS = sa.Table(
    "weather_provider",
    METADATA,
    sa.Column("provider_id", sa.Integer, primary_key=True),
    sa.Column("key", sa.String, nullable=False, unique=True),
    sa.Column("name", sa.String, nullable=False),
    sa.Column("grade", sa.String, nullable=False),
    sa.Column("attribution", sa.String, nullable=False),
    sa.Column("licence", sa.String, nullable=False),
    sa.Column("link", sa.String, nullable=False),
)


def _block_key() -> list[sa.Column[object]]:
    return [
        sa.Column("station_id", sa.String, primary_key=True),
        sa.Column("quantity", sa.String, primary_key=True),
        sa.Column("year", sa.Integer, primary_key=True),  # UTC
    ]


BLOCKS = sa.Table("weather_year", METADATA, *_block_key(), sa.Column("block", sa.LargeBinary, nullable=False))

# What stood until a moment and was then replaced, so that a replay sees what stood before.
SUPERSEDED = sa.Table(
    "weather_superseded",
    METADATA,
    *_block_key(),
    sa.Column("until_utc", sa.String, primary_key=True),
    sa.Column("block", sa.LargeBinary, nullable=False),
)

# A typical year is stitched from several; it is kept apart from what was observed.
TYPICAL = sa.Table(
    "weather_typical_year",
    METADATA,
    sa.Column("station_id", sa.String, primary_key=True),
    sa.Column("quantity", sa.String, primary_key=True),
    sa.Column("loaded_utc", sa.String, primary_key=True),  # the newest that was known by a moment holds
    sa.Column("provider_id", sa.Integer, sa.ForeignKey("weather_provider.provider_id"), nullable=False),
    sa.Column("source", sa.String, nullable=False),
    sa.Column("latitude_deg", sa.Float, nullable=False),
    sa.Column("longitude_deg", sa.Float, nullable=False),
    sa.Column("elevation_m", sa.Float, nullable=False),
    sa.Column("utc_offset_hours", sa.Float, nullable=False),
    sa.Column("block", sa.LargeBinary, nullable=False),  # 8760 h of that standard time, from 1 January 01:00
)

IMPORTS = sa.Table(
    "weather_import",
    METADATA,
    sa.Column("import_id", sa.Integer, primary_key=True),
    sa.Column("station_id", sa.String, nullable=False),
    sa.Column("imported_utc", sa.String, nullable=False),
    sa.Column("provider_key", sa.String, nullable=False),  # of the first that stands behind it
    sa.Column("source", sa.String, nullable=False),
    sa.Column("first_hour_utc", sa.String, nullable=False),
    sa.Column("last_hour_utc", sa.String, nullable=False),
    sa.Column("looked_from_utc", sa.String, nullable=False),  # the source was asked for all it has from this stamp
    sa.Column("looked_to_utc", sa.String, nullable=False),  # to this one
)

# Weather forecasts as they were issued; never overwritten, never among the observations.
ISSUED = sa.Table(
    "weather_issued",
    METADATA,
    sa.Column("record_id", sa.Integer, primary_key=True),
    sa.Column("station_id", sa.String, nullable=False),
    sa.Column("provider_id", sa.Integer, sa.ForeignKey("weather_provider.provider_id"), nullable=False),
    sa.Column("issued_utc", sa.String, nullable=False),
    sa.Column("issued_stated", sa.Boolean, nullable=False),  # false: the source says no moment, it is the fetch's
    sa.Column("fetched_utc", sa.String, nullable=False),  # when it became known here
    sa.Column("source", sa.String, nullable=False),
    sa.Column("first_hour_utc", sa.String, nullable=False),
    sa.Column("hours", sa.Integer, nullable=False),
    sa.Column("block", sa.LargeBinary, nullable=False),
    sa.Column("digest", sa.String, nullable=False),  # of what was issued; the same issue is kept once
    sa.UniqueConstraint("station_id", "provider_id", "issued_utc", "digest"),
)

WITHDRAWALS = sa.Table(
    "weather_withdrawal",
    METADATA,
    sa.Column("record_id", sa.Integer, primary_key=True),
    sa.Column("recorded_utc", sa.String, nullable=False),
    sa.Column("station_id", sa.String, nullable=False),
    sa.Column("quantity", sa.String, nullable=False),
    sa.Column("first_hour_utc", sa.String, nullable=False),
    sa.Column("last_hour_utc", sa.String),  # empty: until it is given back
    sa.Column("reason", sa.String, nullable=False),
    sa.Column("by_whom", sa.String, nullable=False),
    sa.Column("gives_back", sa.Integer),  # the withdrawal that this row ends; its other columns repeat that one's
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


def _since_schema_3() -> list[sa.Column[object]]:
    """What a scouting record holds since schema 3; the defaults are what older records say."""
    return [
        sa.Column("look_alikes_json", sa.String, nullable=False, server_default="[]"),  # keys; none is a disease
        sa.Column("patch_across_mm", sa.Float),
        sa.Column("threads_at_dawn", sa.Boolean),  # white threads in the dew; empty: not looked for
        sa.Column("lab", sa.String, nullable=False, server_default=""),  # who was sent a sample
        sa.Column("lab_result", sa.String, nullable=False, server_default=""),  # in the lab's words
        sa.Column("lab_result_on", sa.String),  # the date it came
    ]


SCOUTINGS = sa.Table(
    "scouting",
    METADATA,
    *_common(),
    sa.Column("disease", sa.String, nullable=False),  # empty: looked, and no disease seen
    sa.Column("sure", sa.Boolean, nullable=False),
    sa.Column("severity_pct", sa.Float),
    *_since_schema_3(),
)

# INSERT OR REPLACE deletes without asking the delete trigger, so a number that is taken is refused before it.
_REFUSED = {
    "UPDATE": "",
    "DELETE": "",
    "INSERT": "WHEN EXISTS (SELECT 1 FROM {table} WHERE record_id = NEW.record_id)",
}

for _table in (APPLICATIONS, SCOUTINGS, ISSUED, WITHDRAWALS):
    for _act, _when in _REFUSED.items():
        sa.event.listen(
            _table,
            "after_create",
            sa.DDL(  # type: ignore[no-untyped-call]
                f"CREATE TRIGGER {_table.name}_no_{_act.lower()} BEFORE {_act} ON {_table.name} "
                f"{_when.format(table=_table.name)} BEGIN SELECT RAISE(ABORT, 'records are append-only'); END"
            ).execute_if(dialect="sqlite"),
        )
