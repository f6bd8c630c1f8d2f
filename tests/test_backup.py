"""Backups: a restored workspace tells the same page, and nothing that is damaged or foreign is ever taken for one."""

from __future__ import annotations

import errno
import json
import shutil
import sqlite3
import threading
import zipfile
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from demo_workspace import demo_copy

from forecast import backup as backup_module
from forecast.backup import MANIFEST, back_up, read_backup, restore, thin_out
from forecast.cli import cli
from forecast.config import DATABASE_FILE, LABELS_FILE
from forecast.database import Database
from forecast.errors import CannotWriteError, DataError, MissingInputError, SettingsError, StorageError
from forecast.records import Entry, record_scouting

NOW = datetime(2050, 7, 25, 9, 30, tzinfo=UTC)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return demo_copy(tmp_path_factory.mktemp("backup") / "w")


@pytest.fixture(scope="module")
def made(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return back_up(demo, tmp_path_factory.mktemp("kept") / "b.zip", NOW).path


def _page(folder: Path) -> str:
    done = CliRunner().invoke(cli, ["morning", "-w", str(folder), "--json"])
    assert done.exit_code == 0, done.output
    return done.stdout


def _changed(made: Path, path: Path, **changes: Any) -> Path:
    """A backup whose list says otherwise, or that holds other files."""
    with zipfile.ZipFile(made) as old, zipfile.ZipFile(path, "w") as new:
        manifest = json.loads(old.read(MANIFEST)) | changes.get("manifest", {})
        new.writestr(MANIFEST, json.dumps(manifest))
        for name in old.namelist():
            if name not in (MANIFEST, changes.get("without")):
                new.writestr(name, changes.get(name, old.read(name)))
        for name in changes.get("more", ()):
            new.writestr(name, "evil")
    return path


def test_what_comes_back_tells_the_same_page(demo: Path, made: Path, tmp_path: Path) -> None:
    found = restore(made, tmp_path / "again")
    assert found.records == {"application": 6, "scouting": 2}
    assert found.made_utc == "2050-07-25T09:30:00Z"
    assert _page(tmp_path / "again") == _page(demo)
    names = {path.name for path in (tmp_path / "again").iterdir()}
    assert names == {"workspace.sqlite", "grounds.toml", "properties.csv", "labels.toml", "INVENTED.txt"}


def test_a_folder_that_holds_something_is_left_alone(made: Path, tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine")
    with pytest.raises(CannotWriteError, match=r"holds mine\.txt already"):
        restore(made, tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


def test_a_backup_is_never_written_over(demo: Path, made: Path) -> None:
    before = made.read_bytes()
    with pytest.raises(CannotWriteError, match="is there already"):
        back_up(demo, made, NOW)
    assert made.read_bytes() == before


def test_a_bit_flipped_anywhere_is_seen_or_does_no_harm(made: Path, tmp_path: Path) -> None:
    """Some bytes of a zip mean nothing, such as its dates; with those flipped all files are still whole."""
    raw = made.read_bytes()
    refused = 0
    for place in range(0, len(raw), max(len(raw) // 150, 1)):
        damaged = bytearray(raw)
        damaged[place] ^= 0x10
        path = tmp_path / "damaged.zip"
        path.write_bytes(damaged)
        try:
            read_backup(path)
        except DataError:
            refused += 1
    assert refused > 140


@pytest.mark.parametrize("share", [0.0, 0.3, 0.9, 0.999])
def test_a_file_cut_short_is_refused_and_leaves_nothing(made: Path, tmp_path: Path, share: float) -> None:
    raw = made.read_bytes()
    path = tmp_path / "cut.zip"
    path.write_bytes(raw[: int(share * len(raw))])
    with pytest.raises(DataError, match="no backup, or damaged"):
        restore(path, tmp_path / "again")
    assert not (tmp_path / "again").exists()


@pytest.mark.parametrize(
    "changes",
    [
        {"more": ["../evil.txt"]},
        {"more": ["evil.txt"]},
        {"without": DATABASE_FILE},
        {LABELS_FILE: b"schema = 2\n"},
        {"manifest": {"form": 2}},
        {"manifest": {"files": {}}},
        {"manifest": {"records": {"application": 6}}},
        {"manifest": {"extra": 1}},
    ],
)
def test_what_is_foreign_is_refused(made: Path, tmp_path: Path, changes: dict[str, Any]) -> None:
    path = _changed(made, tmp_path / "foreign.zip", **changes)
    with pytest.raises(DataError, match="no backup, or damaged"):
        restore(path, tmp_path / "deep" / "again")
    assert sorted(one.name for one in tmp_path.rglob("*")) == ["foreign.zip"]


def test_records_that_are_missing_are_seen(made: Path, tmp_path: Path) -> None:
    path = _changed(made, tmp_path / "less.zip", manifest={"records": {"application": 7, "scouting": 2}})
    with pytest.raises(DataError, match="does not hold the records it names"):
        restore(path, tmp_path / "again")
    assert not (tmp_path / "again").exists()


def test_a_newer_versions_backup_is_refused_and_leaves_nothing(made: Path, tmp_path: Path) -> None:
    path = _changed(made, tmp_path / "newer.zip", manifest={"schema": 99})
    with pytest.raises(SettingsError, match="newer version"):
        restore(path, tmp_path / "again")
    assert not (tmp_path / "again").exists()


def test_a_damaged_database_makes_no_backup(demo: Path, tmp_path: Path) -> None:
    own = tmp_path / "w"
    shutil.copytree(demo, own)
    path = own / DATABASE_FILE
    raw = bytearray(path.read_bytes())
    raw[4096:12_288] = bytes(8192)
    path.write_bytes(raw)
    with pytest.raises(DataError):
        back_up(own, tmp_path / "b.zip", NOW)
    assert sorted(one.name for one in tmp_path.iterdir()) == ["w"]


def test_a_full_disk_leaves_no_part(demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    for name in ("write", "writestr"):
        with monkeypatch.context() as patch:
            patch.setattr(zipfile.ZipFile, name, full)
            with pytest.raises(StorageError, match="No space left"):
                back_up(demo, tmp_path / "kept" / "b.zip", NOW)
        assert list((tmp_path / "kept").iterdir()) == []


def test_what_cannot_be_read_back_is_no_backup(demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A planted slip: a copy that loses a record would be written whole, and is seen when it is read back."""
    honest = backup_module._checked
    counts = iter([(1, 0), (0, 0)])

    def losing(path: Path) -> tuple[int, dict[str, int]]:
        schema, found = honest(path)
        more, _ = next(counts)
        return schema, {name: count + more for name, count in found.items()}

    monkeypatch.setattr(backup_module, "_checked", losing)
    with pytest.raises(DataError, match="does not hold the records it names"):
        back_up(demo, tmp_path / "b.zip", NOW)
    assert list(tmp_path.iterdir()) == []


def test_others_may_write_meanwhile_and_a_backup_holds_whole_records(demo: Path, tmp_path: Path) -> None:
    own = tmp_path / "w"
    shutil.copytree(demo, own)
    stop = threading.Event()
    written = []

    def write() -> None:
        with closing(Database(own / DATABASE_FILE)) as database:
            while not stop.is_set():
                entry = Entry("north-field", NOW, note="x" * 5000)
                written.append(record_scouting(database, entry, "", sure=True, severity_pct=None, now=NOW))

    writer = threading.Thread(target=write)
    writer.start()
    try:
        found = [back_up(own, tmp_path / f"b{number}.zip", NOW).records["scouting"] for number in range(3)]
    finally:
        stop.set()
        writer.join()
    assert found == sorted(found)
    assert 2 <= found[0] <= found[-1] <= 2 + len(written)
    assert written
    for number in range(3):
        restore(tmp_path / f"b{number}.zip", tmp_path / f"r{number}")
        with closing(sqlite3.connect(tmp_path / f"r{number}" / DATABASE_FILE)) as connection:
            rows = connection.execute("SELECT record_id, length(note) FROM scouting ORDER BY record_id").fetchall()
        assert [row[0] for row in rows] == list(range(1, found[number] + 1)), "no record is missing between others"
        assert {row[1] for row in rows[2:]} <= {5000}


def test_a_folder_keeps_the_newest(tmp_path: Path) -> None:
    names = [f"backup-2050072{day}T093000Z.zip" for day in range(1, 6)]
    for name in (*names, "mine.zip", "backup-of-mine.zip"):
        (tmp_path / name).write_text("x")
    assert [path.name for path in thin_out(tmp_path, 2)] == names[:3]
    assert sorted(path.name for path in tmp_path.iterdir()) == [*names[3:], "backup-of-mine.zip", "mine.zip"]
    assert thin_out(tmp_path, 7) == []


def test_the_commands(demo: Path, tmp_path: Path) -> None:
    own = tmp_path / "w"
    shutil.copytree(demo, own)
    done = CliRunner().invoke(cli, ["backup", "-w", str(own)])
    assert done.exit_code == 0, done.output
    assert "6 application records, 2 scouting records; read back and whole" in done.stdout
    (kept,) = (own / "backups").iterdir()
    checked = CliRunner().invoke(cli, ["backup", "--check", str(kept)])
    assert "is whole" in checked.stdout
    back = CliRunner().invoke(cli, ["restore", str(kept), str(tmp_path / "again")])
    assert back.exit_code == 0
    assert "6 application records" in back.stdout
    assert _page(tmp_path / "again") == _page(demo)
    missing = CliRunner().invoke(cli, ["restore", str(tmp_path / "no.zip"), str(tmp_path / "x")])
    assert isinstance(missing.exception, MissingInputError)
    nowhere = CliRunner().invoke(cli, ["backup", "-w", str(tmp_path)])
    assert isinstance(nowhere.exception, MissingInputError)
