"""The README's promises that a machine can hold it to."""

from __future__ import annotations

import re
import subprocess
import tomllib
from pathlib import Path

from click.testing import CliRunner

from forecast import errors
from forecast.cli import cli
from forecast.ingest.logger.mapping import Mapping
from forecast.turf import DISEASES, GRASSES

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "LICENSE",
    "forecast",
    "tests",
    "data_demo",
    "notebooks",
}


def _section(name: str) -> str:
    found = re.search(rf"^## {name}\s*$(.*?)(?=^## |\Z)", README, re.MULTILINE | re.DOTALL)
    assert found
    return found.group(1)


def test_start_and_test_hold_exactly_one_command_line_each() -> None:
    for name in ("Start", "Test"):
        blocks = re.findall(r"```sh\n(.*?)```", _section(name), re.DOTALL)
        assert len(blocks) == 1
        assert len(blocks[0].strip().splitlines()) == 1


def test_the_first_paragraph_states_the_job() -> None:
    paragraph = README.split("\n\n")[1]
    for word in ("hourly weather", "wet", "disease", "treat, scout or hold"):
        assert word in " ".join(paragraph.split())


def test_the_mapping_shown_is_a_real_one() -> None:
    block = re.search(r"```toml\n(.*?)```", README, re.DOTALL)
    assert block
    Mapping.model_validate(tomllib.loads(block.group(1)))


def test_every_command_shown_exists_with_its_options() -> None:
    shown = re.findall(r"^forecast (.+)$", README, re.MULTILINE)
    assert len(shown) >= 5
    for line in shown:
        words = line.split()
        command = words[:2] if words[0] in {"weather", "record"} else words[:1]
        told = CliRunner().invoke(cli, [*command, "--help"])
        assert told.exit_code == 0, line
        for option in re.findall(r"(--[a-z-]+)", line):
            assert option in told.output, line


def test_every_grass_and_disease_is_named() -> None:
    for key in (*GRASSES, *DISEASES):
        assert f"`{key}`" in README


def test_every_exit_code_is_documented() -> None:
    codes = {e.exit_code for e in vars(errors).values() if isinstance(e, type) and issubclass(e, errors.ForecastError)}
    table = _section("For scripts")
    for code in codes:
        assert str(code) in table


def test_the_top_level_holds_nothing_else() -> None:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode:  # an unpacked source archive has no git
        return
    top = {line.split("/")[0] for line in listed.stdout.splitlines()}
    assert {name for name in top if not name.startswith(".")} == TOP_LEVEL


def test_no_file_names_a_machine_path_or_a_package_host() -> None:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    paths = listed.stdout.splitlines() if not listed.returncode else []
    wrong = re.compile(
        "|".join(["/" + "root/", "/" + "work/", "/home/" + "[a-z]", "pypi" + r"\.org", "python" + "hosted"])
    )
    for name in paths:
        path = ROOT / name
        if path.suffix in {".gz", ".png"} or not path.is_file():
            continue
        assert not wrong.search(path.read_text(encoding="utf-8")), name
