"""What kernels are handed as one pointer is what numpy holds."""

from dataclasses import dataclass, replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import array_shapes, arrays

from nesting.engine.compiled import compiled, kernel_loop
from nesting.engine.handed import Handed


@dataclass(frozen=True, eq=False)
class Some(Handed):
    line: np.ndarray
    plane: np.ndarray
    block: np.ndarray
    told: np.ndarray


@kernel_loop()
def _filled(some, sums):
    for i in range(some.block.shape[0]):
        for j in range(some.block.shape[1]):
            for k in range(some.block.shape[2]):
                sums[0] += some.block[i, j, k] * (1 + i + 10 * j + 100 * k)
    for i in range(some.plane.shape[0]):
        row = some.plane[i]
        for j in range(row.shape[0]):
            sums[1] += row[j] * (1 + i + 10 * j)
    for i in range(some.line.shape[0]):
        some.line[i] += 1.0
        sums[2] += some.told[i]


@compiled()
def filled(some, sums):
    _filled(some, sums)


@settings(deadline=None, max_examples=50)
@given(
    arrays(np.float64, 5, elements=st.floats(-1e6, 1e6)),
    arrays(np.int64, array_shapes(min_dims=2, max_dims=2, min_side=0), elements=st.integers(-1000, 1000)),
    arrays(np.float32, array_shapes(min_dims=3, max_dims=3, min_side=0), elements=st.integers(-1000, 1000)),
    arrays(np.bool_, 5),
)
def test_a_kernel_reads_and_fills_the_arrays_of_python(line, plane, block, told):
    before = line.copy()
    some = Some(line, plane.T, block[::-1], told)
    sums = np.zeros(3)
    filled(some, sums)
    i, j, k = np.indices(block.shape)
    assert sums[0] == (block[::-1].astype(float) * (1 + i + 10 * j + 100 * k)).sum()
    i, j = np.indices(plane.T.shape)
    assert sums[1] == (plane.T * (1 + i + 10 * j)).sum()
    assert sums[2] == told.sum()
    assert np.array_equal(some.line, before + 1.0)


def test_a_changed_copy_has_its_own_arrays_and_leaves_the_other():
    some = Some(np.zeros(3), np.zeros((2, 2), np.int64), np.zeros((1, 1, 1), np.float32), np.ones(3, np.bool_))
    other = replace(some, line=np.full(3, 5.0))
    filled(other, np.zeros(3))
    assert some.line.tolist() == [0.0] * 3
    assert other.line.tolist() == [6.0] * 3
