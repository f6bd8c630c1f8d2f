"""The demo workspace, made once a test run and copied for whoever writes to it."""

from __future__ import annotations

import functools
import shutil
import tempfile
from pathlib import Path

from forecast.workspace import start_demo


@functools.cache
def _master() -> Path:
    folder = Path(tempfile.mkdtemp(prefix="forecast-demo-")) / "demo"
    start_demo(folder)
    return folder


def demo_copy(target: Path) -> Path:
    """A fresh copy of the demo workspace in a folder that does not exist yet."""
    shutil.copytree(_master(), target)
    return target
