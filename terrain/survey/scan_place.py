"""Where a floating scan stands on the site: targets first, then stable ground if it is given."""

from dataclasses import dataclass

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.base.units import LengthUnit
from terrain.survey.control import ControlAsked, control_fit, control_sentence
from terrain.survey.refine import refine, refined_sentence


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Floating:
    """What the job says of a scan in a frame of its own.

    Args:
        control: its targets.
        stable: (m, 3), shots on ground that has not changed, on the site; None without.
        within: how far from the scan, once on its targets, a stable shot may lie.
        files: the files that are such scans; none for every cloud, mesh and .xyz file.
    """

    control: ControlAsked
    stable: FloatArray | None = None
    within: float = 1.0
    files: tuple[str, ...] = ()

    def holds(self, name: str) -> bool:
        """Whether a file is a scan in a frame of its own."""
        if self.files:
            return name in self.files
        return not name.casefold().endswith((".csv", ".txt", ".xml", ".landxml"))

    def targets(self) -> FloatArray:
        """The targets (n, 3) as the scan has them."""
        return np.array([target.scan for target in self.control.targets])


def put_on_site(
    points: FloatArray, targets: FloatArray, floating: Floating, name: str, unit: LengthUnit
) -> tuple[FloatArray, tuple[str, ...]]:
    """A scan (n, 3) on the site, and what there is to say of how it was put there.

    Points and targets (k, 3) are the scan's own with z up, in the job's unit.

    Errors: `SurveyError` if the targets or the stable ground can't hold it.
    """
    fit = control_fit(floating.control, targets, unit)
    placed, said = fit.to_site(points), [control_sentence(floating.control, fit, name, unit)]
    if floating.stable is not None:
        found = refine(placed, floating.stable, floating.within, unit)
        placed = found.points
        said.append(refined_sentence(found, name, unit))
    return placed, tuple(said)
