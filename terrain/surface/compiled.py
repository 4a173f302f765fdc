"""The shapes of what kernels take, and how they are compiled."""

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.base.compiled import compiled as compiled
from terrain.base.compiled import inlined as inlined

Starts: TypeAlias = NDArray[np.int64]
Point: TypeAlias = tuple[float, float]
Four: TypeAlias = tuple[float, float, float, float]
# start, ring, plane of `patches.Surface`; the coarser surface also says which edges are sound
Faces: TypeAlias = tuple[Starts, FloatArray, FloatArray]
SoundFaces: TypeAlias = tuple[Starts, FloatArray, FloatArray, BoolArray]
# boxes, level, order, see `boxtree`
Tree: TypeAlias = tuple[FloatArray, Starts, IntArray]
# first and last face, sign of the depth of fine over coarse, and room for corners of a pair
Task: TypeAlias = tuple[int, int, float, int]
# fine face, coarse face, sign of the depth, and the column for its figures
Pair: TypeAlias = tuple[int, int, float, int]
# what a chunk makes: parents and figures of pairs, or parts and corners
Columns: TypeAlias = tuple[IntArray, FloatArray]
