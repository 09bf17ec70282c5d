"""Functions are compiled with any numba, those called by others alone as parts of these where that was tried."""

import subprocess
import sys

import pytest

from nesting.engine.compiled import TRIED

# the functions stand in a file, since only such are cached
SOURCE = """
import numba

numba.__version__ = "{version}"
from nesting.engine.compiled import compiled, kernel, kernel_loop

@kernel()
def half(x):
    return x / 2.0

@kernel_loop()
def halves(xs):
    for i in range(len(xs)):
        xs[i] = half(xs[i])

@compiled()
def outer(xs):
    halves(xs)
    return xs.sum()

if __name__ == "__main__":
    import numpy as np
    print(outer(np.array([2.0, 4.0])))
"""


@pytest.mark.parametrize("version, alone", [(TRIED, False), ("0.60.0", True), ("0.999.1", True)])
def test_compiled_functions_work_whatever_numba_is_there(tmp_path, version, alone):
    file = tmp_path / "functions.py"
    file.write_text(SOURCE.format(version=version))
    done = subprocess.run([sys.executable, "-B", str(file)], capture_output=True, text=True, timeout=150)
    assert done.stdout == "3.0\n", done.stderr
    assert any(tmp_path.rglob("functions.outer-*.nbi"))
    assert any(tmp_path.rglob("functions.halves-*.nbi")) == alone
