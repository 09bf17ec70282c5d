from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

NOTEBOOKS = sorted((Path(__file__).parents[2] / "notebooks").glob("*.ipynb"))


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_the_notebook_runs_from_top_to_bottom(path, tmp_path, monkeypatch):
    # a quarter of a year is shortened
    monkeypatch.setenv("SHOP_WEEKS", "1")
    notebook = nbformat.read(path, as_version=4)
    NotebookClient(
        notebook, timeout=180, kernel_name="python3", resources={"metadata": {"path": str(tmp_path)}}
    ).execute()
    assert all(cell.get("execution_count") for cell in notebook.cells if cell.cell_type == "code")


def test_there_is_a_notebook():
    assert NOTEBOOKS
