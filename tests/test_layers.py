"""The import contracts: each one bites when it is broken on purpose, and lists all that it should."""

from __future__ import annotations

import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
CONTRACTS = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"]["contracts"]

# contract → file, and an import that it forbids
BREACHES = {
    "layers": ("forecast/outlook/climatology.py", "import forecast.schedule.need"),
    "pure-middle": ("forecast/physics/sun.py", "import logging"),
    "no-pandas-in-kernels": ("forecast/daily.py", "import pandas"),
    "one-door-to-the-network": ("forecast/ingest/logger/csv_file.py", "import urllib.request"),
    "models-apart": ("forecast/diseases/smith_2018.py", "import forecast.diseases.fidanza_1996"),
    "methods-apart": ("forecast/wetness/humidity_threshold.py", "import forecast.wetness.dew_point_depression"),
}


# Files of a folder that are no model, or no method, but what they share.
MODEL_PARTS = {
    "__init__", "crossing", "declare", "events", "infection", "logic", "modifiers", "pressure", "scouting_reasons",
    "site_form", "soil_trend",
}  # fmt: skip


def _broken(root: Path) -> set[str]:
    code = (
        "import sys; sys.path.insert(0, '.'); from importlinter.cli import lint_imports_command; lint_imports_command()"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, "--no-cache"], cwd=root, capture_output=True, text=True, timeout=120, check=False
    )
    return {c["id"] for c in CONTRACTS if f"{c['name']} BROKEN" in " ".join(done.stdout.split())}


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    shutil.copytree(ROOT / "forecast", tmp_path / "forecast", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copyfile(ROOT / "pyproject.toml", tmp_path / "pyproject.toml")
    return tmp_path


def test_every_contract_has_its_breach() -> None:
    assert set(BREACHES) == {contract["id"] for contract in CONTRACTS}


def test_nothing_is_broken_as_it_stands(copy: Path) -> None:
    assert _broken(copy) == set()


@pytest.mark.parametrize("contract", BREACHES)
def test_a_breach_is_seen(copy: Path, contract: str) -> None:
    file, line = BREACHES[contract]
    path = copy / file
    path.write_text(path.read_text(encoding="utf-8") + f"\n{line}\n", encoding="utf-8")
    assert contract in _broken(copy)


@pytest.mark.parametrize(
    ("contract", "folder", "not_members"),
    [
        ("models-apart", "diseases", MODEL_PARTS),
        ("methods-apart", "wetness", {"__init__", "film", "form", "published", "skill"}),
    ],
)
def test_every_model_and_method_stands_in_its_contract(contract: str, folder: str, not_members: set[str]) -> None:
    listed = next(c["modules"] for c in CONTRACTS if c["id"] == contract)
    files = {path.stem for path in (ROOT / "forecast" / folder).glob("*.py")} - not_members
    assert set(listed) == {f"forecast.{folder}.{name}" for name in files}
