"""Names for the array types that every floor passes about."""

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

FloatArray: TypeAlias = NDArray[np.float64]
IntArray: TypeAlias = NDArray[np.signedinteger]
BoolArray: TypeAlias = NDArray[np.bool_]
