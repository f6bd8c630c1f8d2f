"""What must stay off the fast paths: --help and the morning page import no heavy library."""

from __future__ import annotations

import subprocess
import sys
from importlib import import_module
from pathlib import Path

import pytest
from demo_workspace import demo_copy

HEAVY = ("pandas", "scipy", "sklearn", "matplotlib", "meteostat", "requests", "IPython")
HEAVY_FOR_HELP = (*HEAVY, "numpy", "sqlalchemy", "pydantic", "jinja2")


def _loaded(arguments: list[str], heavy: tuple[str, ...]) -> set[str]:
    code = (
        "import sys, atexit\n"
        f"atexit.register(lambda: print('LOADED', *[m for m in {heavy!r} if m in sys.modules], file=sys.stderr))\n"
        f"sys.argv = ['forecast', *{arguments!r}]\n"
        "from forecast.cli import main\n"
        "main()\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120, check=True)
    return set(done.stderr.split("LOADED", 1)[1].split())


@pytest.mark.parametrize("name", HEAVY)
def test_every_library_named_here_is_installed(name: str) -> None:
    """Else its absence below would prove nothing."""
    assert import_module(name)


def test_help_loads_nothing_heavy() -> None:
    assert _loaded(["--help"], HEAVY_FOR_HELP) == set()


@pytest.mark.parametrize("extra", [[], ["--json"], ["--html", "page.html"]])
def test_the_morning_page_loads_nothing_heavy(tmp_path: Path, extra: list[str]) -> None:
    demo = demo_copy(tmp_path / "w")
    extra = [str(tmp_path / part) if part.endswith(".html") else part for part in extra]
    assert _loaded(["morning", "--workspace", str(demo), *extra], HEAVY) == set()


def test_the_probe_sees_what_is_loaded(tmp_path: Path) -> None:
    """Loading weather does need pandas: were the probe blind, the tests above could not fail."""
    demo = demo_copy(tmp_path / "w")
    file = tmp_path / "x.csv"
    file.write_text("hour_utc,air_temperature_c,relative_humidity_pct\n2040-10-31T00:00Z,3.5,80\n")
    call = ["weather", "load", str(file), "--station", "alder-reach", "--workspace", str(demo)]
    assert "pandas" in _loaded(call, HEAVY)
