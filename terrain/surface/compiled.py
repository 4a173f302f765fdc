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
# first and last face, sign of the depth of fine over coarse, room for corners of a pair, and how
# many faces to look up together
Task: TypeAlias = tuple[int, int, float, int, int]


def compiled(function: Compiled) -> Compiled:
    """The function compiled, without the lock, and kept on disk where some folder allows it."""
    return _compile(function, forceinline=False)


def inlined(function: Compiled) -> Compiled:
    """As `compiled`, but written out wherever it is called, for what runs for every pair."""
    return _compile(function, forceinline=True)


def _compile(function: Compiled, *, forceinline: bool) -> Compiled:
    def made(cache: bool) -> Any:
        return numba.njit(nogil=True, error_model="numpy", cache=cache, forceinline=forceinline)(
            function
        )

    try:
        return cast(Compiled, made(cache=True))
    except RuntimeError:  # numba found no folder it may write its cache to
        return cast(Compiled, made(cache=False))
