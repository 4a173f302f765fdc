"""A scan moved the last little bit, onto ground that has not changed and was surveyed already.

Shots on stable ground are brought onto the planes of the scan about them by small_gicp's
registration (generalised ICP; Segal, Haehnel and Thrun 2009, from memory). Where the stable
ground is too flat to hold the scan sideways (its planes look all one way) only height and tilt
are refined, by least squares.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from terrain.base.arrays import FloatArray
from terrain.base.errors import Fault, SurveyError
from terrain.base.units import LengthUnit

if TYPE_CHECKING:
    from scipy.spatial import cKDTree

KEY = "existing.control.refine"
LEAST_SHOTS = 6
NEIGHBOURS, OWN_NEIGHBOURS = 16, 10
HELD = 0.02
"""Least share of the weakest direction in the strongest, of what the planes hold, from which the
scan is held every way; less would let noise slide it."""
TURNS = 30


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Refined:
    """Points moved, and by how much: `before` and `after` are root mean squares of what the stable
    shots miss the scan by, across its planes; `used` counts them.
    """

    points: FloatArray
    kind: Literal["every way", "height and tilt"]
    moved: FloatArray
    used: int
    before: float
    after: float


def refine(points: FloatArray, stable: FloatArray, within: float, unit: LengthUnit) -> Refined:
    """A scan (n, 3) moved onto stable shots (m, 3), pairs farther apart than `within` left out.

    Errors: `SurveyError` if too few shots have scan near them, or the scan can't be brought closer.
    """
    from scipy.spatial import cKDTree  # few jobs refine a scan

    middle = stable.mean(axis=0)
    own, shots = points - middle, stable - middle
    tree = cKDTree(own)
    foot, normal = _planes(own, tree, shots)
    near = np.abs(((shots - foot) * normal).sum(axis=1)) <= within
    near &= np.linalg.norm(shots - foot, axis=1) <= 3.0 * within
    if near.sum() < LEAST_SHOTS:
        message = (
            f"only {int(near.sum())} of {len(stable)} stable shots have scan within {within:g} "
            f"{unit.name}; at least {LEAST_SHOTS} are wanted: are they of other ground, or in "
            "another datum? If the targets are that far off, make within larger"
        )
        raise SurveyError(Fault(key=KEY, message=message))
    shots = shots[near]
    before = _miss(own, tree, shots)
    every_way = _held(shots, normal[near]) >= HELD
    moved = _registered(own, shots, within) if every_way else _levelled(own, tree, shots)
    after = _miss(moved, cKDTree(moved), shots)
    if not after <= max(before, 1e-9 * within):
        message = "the scan can't be brought closer to the stable shots: are they of other ground?"
        raise SurveyError(Fault(key=KEY, message=message))
    return Refined(
        points=moved + middle,
        kind="every way" if every_way else "height and tilt",
        moved=np.asarray(moved.mean(axis=0) - own.mean(axis=0)),
        used=int(near.sum()),
        before=before,
        after=after,
    )


def refined_sentence(found: Refined, name: str, unit: LengthUnit) -> str:
    """How a scan was moved onto stable ground."""
    east, north, up = found.moved
    return (
        f"{name}: moved onto {found.used} stable shots ({found.kind}) by {east:+.3f} east, "
        f"{north:+.3f} north, {up:+.3f} up on the mean; they missed it by {found.before:.3f}, now "
        f"by {found.after:.3f} {unit.name} (root mean square)."
    )


def _planes(
    points: FloatArray, tree: "cKDTree", shots: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """The middle and the normal (m, 3) of the scan about each shot."""
    count = min(NEIGHBOURS, len(points))
    _, nearest = tree.query(shots, k=count)
    about = points[nearest]
    foot = about.mean(axis=1)
    _, _, turned = np.linalg.svd(about - foot[:, None, :], full_matrices=False)
    return foot, turned[:, 2, :]


def _miss(points: FloatArray, tree: "cKDTree", shots: FloatArray) -> float:
    foot, normal = _planes(points, tree, shots)
    return float(np.sqrt((((shots - foot) * normal).sum(axis=1) ** 2).mean()))


def _held(shots: FloatArray, normal: FloatArray) -> float:
    """How well planes hold the scan in the direction they hold it least: a share of the best."""
    arm = shots - shots.mean(axis=0)
    size = np.sqrt((arm**2).sum(axis=1).mean())
    rows = np.column_stack([normal, np.cross(arm / size, normal)])
    strength = np.linalg.svd(rows, compute_uv=False)
    return float(strength[-1] / strength[0]) if len(strength) == 6 else 0.0


def _registered(points: FloatArray, shots: FloatArray, within: float) -> FloatArray:
    import small_gicp

    scan = small_gicp.PointCloud(_about(points, shots, 3.0 * within))
    tree = small_gicp.KdTree(scan)
    small_gicp.estimate_normals_covariances(scan, tree, num_neighbors=NEIGHBOURS)
    own = small_gicp.PointCloud(shots)
    small_gicp.estimate_normals_covariances(
        own, small_gicp.KdTree(own), num_neighbors=min(OWN_NEIGHBOURS, len(shots))
    )
    # its "PLANE_ICP" weighs the three axes by the normal's own parts and slides; GICP does not
    found = small_gicp.align(
        scan, own, tree, registration_type="GICP",
        max_correspondence_distance=3.0 * within, num_threads=1, max_iterations=TURNS,
        rotation_epsilon=1e-9, translation_epsilon=1e-9,
    )  # fmt: skip
    back = np.linalg.inv(found.T_target_source)
    moved: FloatArray = points @ back[:3, :3].T + back[:3, 3]
    return moved


def _about(points: FloatArray, shots: FloatArray, margin: float) -> FloatArray:
    """The scan within the box round the shots, all that can pair with them."""
    low, high = shots.min(axis=0) - margin, shots.max(axis=0) + margin
    about: FloatArray = points[((points >= low) & (points <= high)).all(axis=1)]
    return about


def _levelled(points: FloatArray, tree: "cKDTree", shots: FloatArray) -> FloatArray:
    """The scan raised by a plane over easting and northing that fits the shots best."""
    foot, normal = _planes(points, tree, shots)
    rise = ((shots - foot) * normal).sum(axis=1) / normal[:, 2]
    base = np.column_stack([np.ones(len(shots)), shots[:, :2]])
    plane = np.linalg.lstsq(base, rise, rcond=None)[0]
    moved = points.copy()
    moved[:, 2] += plane[0] + points[:, :2] @ plane[1:]
    return moved
