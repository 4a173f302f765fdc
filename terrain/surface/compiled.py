"""How kernels are compiled, and the shapes of what they take."""

from collections.abc import Callable
from typing import Any, TypeAlias, TypeVar, cast

import numba
import numpy as np
from numpy.typing import NDArray

from terrain.base.arrays import BoolArray, FloatArray, IntArray

Compiled = TypeVar("Compiled", bound=Callable[..., Any])
Starts: TypeAlias = NDArray[np.int64]
Point: TypeAlias = tuple[float, float]
Four: TypeAlias = tuple[float, float, float, float]
# start, ring, plane of `patches.Surface`; the coarser surface also says which edges are sound
Faces: TypeAlias = tuple[Starts, FloatArray, FloatArray]
SoundFaces: TypeAlias = tuple[Starts, FloatArray, FloatArray, BoolArray]
# boxes, level, order, see `boxtree`
Tree: TypeAlias = tuple[FloatArray, Starts, IntArray]
# first and last face, sign of the depth of fine over coarse, room for corners of a pair
Task: TypeAlias = tuple[int, int, float, int]


def compiled(function: Compiled) -> Compiled:
    """The function compiled, without the lock, and kept on disk where some folder allows it."""
    try:
        made = numba.njit(nogil=True, error_model="numpy", cache=True)(function)
    except RuntimeError:  # numba found no folder it may write its cache to
        made = numba.njit(nogil=True, error_model="numpy")(function)
    return cast(Compiled, made)
