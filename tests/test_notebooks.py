"""Every notebook runs from top to bottom, offline, and is stored without its output."""

from __future__ import annotations

from pathlib import Path

import jupytext
import pytest
from nbclient import NotebookClient

NOTEBOOKS = sorted((Path(__file__).parents[1] / "notebooks").glob("*.ipynb"))


def test_there_are_notebooks() -> None:
    assert NOTEBOOKS


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_a_notebook_is_stored_without_output(path: Path) -> None:
    for cell in jupytext.read(path).cells:
        assert not cell.get("outputs")
        assert cell.get("execution_count") is None


@pytest.mark.filterwarnings("default")  # the kernel's own machinery warns about event loops
@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_a_notebook_runs(path: Path, tmp_path: Path) -> None:
    notebook = jupytext.read(path)
    assert any("assert " in cell.source for cell in notebook.cells), "it ends in what it has shown"
    NotebookClient(notebook, timeout=300, resources={"metadata": {"path": str(tmp_path)}}).execute()
