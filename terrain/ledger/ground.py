"""The existing ground as the ledger takes it."""

from dataclasses import dataclass

from terrain.base.arrays import FloatArray, IntArray
from terrain.ledger.errors_said import NOTHING_SAID, SurveyErrors
from terrain.surface.patches import Surface


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """The existing ground as faces, and the triangles they come from for the doubt of volumes.

    Args:
        surface: labelled by triangle.
        points: (n, 3), the TIN's, in the local frame.
        triangles: (m, 3), its triangles, counter-clockwise.
        errors: what the survey is said to err by.
        on_line: the points that lines run through, which say what the ground does there; None
            for none.
    """

    surface: Surface
    points: FloatArray
    triangles: IntArray
    errors: SurveyErrors = NOTHING_SAID
    on_line: IntArray | None = None
