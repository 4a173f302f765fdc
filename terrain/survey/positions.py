"""Phone positions to shots: projected to the site's grid or fitted to its marks, heights settled.

A phone's height is above the ellipsoid, or above some sea level of its own; a site's elevations
are above neither. So the job says which, and either the separation (a constant or a geoid grid)
or the elevations of common marks; nothing is guessed.
"""

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
import pyproj
from pyproj.exceptions import ProjError

from terrain.base.arrays import FloatArray
from terrain.base.errors import Fault, SurveyError
from terrain.base.units import METRE, LengthUnit
from terrain.survey.crs import job_crs
from terrain.survey.fit import Fit, fit_rigid, one_that_disagrees
from terrain.survey.georef import Site, projector
from terrain.survey.merge import count
from terrain.survey.position_files import Positions
from terrain.survey.shots import Absorbed, Shots, nearest_names

Above = Literal["ellipsoid", "sea level"]
KEY = "existing.phone"
USUAL_TOLERANCE = {"ft": 1.0, "ftUS": 1.0, "m": 0.3}
"""What a common point may miss its place by; common practice, no source."""
MEANINGLESS = 1.0
"""Metres of vertical accuracy from which a phone's height says nothing of a basement."""
NO_VOLUME = "no volume of a basement can be had from them"
UNKNOWN = "says nothing of the accuracy of its heights"
"""What the notes say that are more than notes; whoever shows them sets them beside the answer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Common:
    """A point known in both frames: its name among the positions, its place on the site.

    `site` is easting and northing, with an elevation if the heights are to be fitted too.
    """

    point: str
    site: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PhoneAsked:
    """What the job says of phone positions.

    Args:
        heights: what the files' heights are above; None if the job does not say.
        unit: of the files' heights and accuracies.
        geoid: height of the geoid over the ellipsoid in `unit`, or the path of a grid of it.
        common: points to fit the positions to the site on.
        scaled: whether the fit may change the scale.
        tolerance: what a common point may miss by, in the job's unit; None for the usual.
    """

    heights: Above | None = None
    unit: LengthUnit = METRE
    geoid: float | Path | None = None
    common: tuple[Common, ...] = ()
    scaled: bool = False
    tolerance: float | None = None


def shots_of_positions(positions: Positions, asked: PhoneAsked, site: Site) -> Shots:
    """The positions of a file as shots on the site, with the accuracy of each elevation.

    Errors: `SurveyError` if a height is missing or can't be settled, the site is on a local grid
    and too few points are common, or a common point misses its place.
    """
    _check_heights(positions, asked)
    plan, local = _projected(positions, site)
    factor = float(asked.unit.metres / site.unit.metres)
    upward = _elevations(positions, asked) * factor
    notes = list(_told(positions, asked, site))
    if asked.common:
        fitted = _Fitting(positions=positions, asked=asked, site=site)
        plan, upward, said = fitted.fit(plan, upward)
        notes += said
    elif local:
        message = (
            "the site is on a local grid: name at least two points known on both, "
            'common = [{point = "A", site = [easting, northing]}, ...], or a site.crs.'
        )
        raise _fault(positions, message, KEY)
    names = np.array([name.encode() for name in positions.point], dtype=np.bytes_)
    codes = sorted({code for code in positions.code if code})
    at = {code: k for k, code in enumerate(codes)}
    n = len(positions)
    return Shots(
        easting=np.ascontiguousarray(plan[:, 0]),
        northing=np.ascontiguousarray(plan[:, 1]),
        elevation=upward,
        file=np.zeros(n, dtype=np.int16),
        row=positions.row,
        code=np.array([at.get(code, -1) for code in positions.code], dtype=np.int32),
        line=np.full(n, -1, dtype=np.int32),
        files=(positions.file,),
        code_names=tuple(codes),
        point=names if any(positions.point) else None,
        absorbed=Absorbed.nothing(),
        accuracy=positions.vertical * factor,
        notes=tuple(notes),
    )


def _fault(positions: Positions, message: str, key: str | None = None) -> SurveyError:
    return SurveyError(
        Fault(file=positions.file if key is None else None, key=key, message=message)
    )


def _check_heights(positions: Positions, asked: PhoneAsked) -> None:
    missing = np.flatnonzero(np.isnan(positions.height))
    if len(missing):
        rows = ", ".join(str(int(positions.row[k])) for k in missing[:5])
        message = f"{count(len(missing), 'position')} without a height, the first at {rows}; "
        raise _fault(positions, message + "a ground needs heights.")
    fitted = bool(asked.common) and all(len(one.site) > 2 for one in asked.common)
    if asked.heights is None and not fitted:
        message = (
            'say what the heights are above: heights = "ellipsoid" with geoid = a height or the '
            'file of a grid, or heights = "sea level" as the phone has it.'
        )
        raise _fault(positions, message, KEY)
    if asked.heights == "ellipsoid" and asked.geoid is None and not fitted:
        message = (
            "heights above the ellipsoid lie tens of metres off any ground's elevation: give the "
            "geoid's height over it here, geoid = -31.42, or a grid of it, geoid = "
            '"geoid.tif", or common points with elevations.'
        )
        raise _fault(positions, message, f"{KEY}.geoid")
    if asked.geoid is not None and asked.heights != "ellipsoid":
        message = 'has no use unless heights = "ellipsoid"'
        raise _fault(positions, message, f"{KEY}.geoid")


def _projected(positions: Positions, site: Site) -> tuple[FloatArray, bool]:
    """Plan (n, 2) in the job's unit, and whether it is on a grid of its own round the middle."""
    degrees = np.column_stack([positions.longitude, positions.latitude])
    world = pyproj.CRS.from_epsg(4326)
    if site.crs is not None:
        plan = projector(world, job_crs(site.crs, site.unit))(degrees)
        if not np.isfinite(plan).all():
            first = int(np.flatnonzero(~np.isfinite(plan).all(axis=1))[0])
            message = f"line {positions.row[first]} has no place on {site.crs}."
            raise _fault(positions, message)
        return plan, False
    longitude, latitude = degrees.mean(axis=0).tolist()
    own = pyproj.CRS.from_proj4(
        f"+proj=tmerc +lon_0={longitude!r} +lat_0={latitude!r} +k=1 +ellps=WGS84 +units=m"
    )
    return projector(world, own)(degrees) / float(site.unit.metres), True


def _elevations(positions: Positions, asked: PhoneAsked) -> FloatArray:
    """Heights with the geoid's height taken off, in the unit of the file."""
    if asked.geoid is None:
        return positions.height
    if isinstance(asked.geoid, float):
        return positions.height - asked.geoid
    return positions.height - _from_grid(positions, asked.geoid) / float(asked.unit.metres)


def _from_grid(positions: Positions, grid: Path) -> FloatArray:
    """Height of the geoid over the ellipsoid in metres at each position, from a grid PROJ reads."""
    key = f"{KEY}.geoid"
    if not grid.is_file():
        raise _fault(positions, f'there is no file "{grid.name}" beside the job', key)
    path = str(grid.absolute())
    if any(sign in path for sign in "\"',"):
        raise _fault(positions, "a path with quotes or commas can't be given to PROJ", key)
    steps = (
        "+proj=pipeline +step +proj=unitconvert +xy_in=deg +xy_out=rad "
        f'+step +proj=vgridshift +grids="{path}" +multiplier=1 '
        "+step +proj=unitconvert +xy_in=rad +xy_out=deg"
    )
    try:
        move = pyproj.Transformer.from_pipeline(steps)
        nought = np.zeros(len(positions))
        *_, found = move.transform(positions.longitude, positions.latitude, nought)
    except ProjError as error:
        # what PROJ says names its own pipeline, and nothing that helps whoever wrote the job
        message = f'"{grid.name}" is no grid of geoid heights that PROJ reads (GeoTIFF or GTX)'
        raise _fault(positions, message, key) from error
    heights: FloatArray = np.asarray(found)
    if not np.isfinite(heights).all():
        first = int(positions.row[np.flatnonzero(~np.isfinite(heights))[0]])
        message = f"the grid does not reach the position at line {first} of {positions.file}"
        raise _fault(positions, message, key)
    return heights


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fitting:
    """A fit of positions to common points of the site."""

    positions: Positions
    asked: PhoneAsked
    site: Site

    def fit(self, plan: FloatArray, upward: FloatArray) -> tuple[FloatArray, FloatArray, list[str]]:
        """Plan (n, 2) and elevations (n,) moved to the site, and what there is to say of it."""
        common = self.asked.common
        if len(common) < 2:
            raise self._refused("at least two common points are wanted")
        own = np.array([self._place(one, plan) for one in common])
        there = np.array([one.site[:2] for one in common])
        if np.ptp(own, axis=0).max() == 0.0 or np.ptp(there, axis=0).max() == 0.0:
            raise self._refused("the common points are all at one spot")
        fit = fit_rigid(own, there, scaled=self.asked.scaled)
        self._require_agreement(fit, own, there)
        said = [self._sentence(fit)]
        level = [one for one in common if len(one.site) > 2]
        if level:
            rises = [float(one.site[2] - self._place(one, upward)) for one in level]
            shift = float(np.mean(rises))
            worst = int(np.argmax(np.abs(np.array(rises) - shift)))
            self._require_level(level[worst], abs(rises[worst] - shift))
            upward = upward + shift
            said.append(
                f"{self.positions.file}: heights raised by {shift:+.3f} {self.site.unit.name} to "
                f"{count(len(level), 'common point')}; the worst, {level[worst].point}, is "
                f"{abs(rises[worst] - shift):.3f} off."
            )
        return fit.to_site(plan), upward, said

    def _place(self, one: Common, of: FloatArray) -> FloatArray:
        """The mean of what was measured at a common point."""
        found = [k for k, name in enumerate(self.positions.point) if name == one.point]
        if not found:
            near = nearest_names(one.point, sorted({p for p in self.positions.point if p}))
            raise self._refused(f'no position is named "{one.point}"; {near}')
        mean: FloatArray = of[found].mean(axis=0)
        return mean

    def _tolerance(self) -> float:
        asked = self.asked.tolerance
        return USUAL_TOLERANCE[self.site.unit.name] if asked is None else asked

    def _require_agreement(self, fit: Fit, own: FloatArray, there: FloatArray) -> None:
        tolerance, unit = self._tolerance(), self.site.unit.name
        if fit.misses.max() <= tolerance:
            return
        names = [one.point for one in self.asked.common]
        listed = ", ".join(f"{n} {m:.3f}" for n, m in zip(names, fit.misses, strict=True))
        if len(names) > 2:
            self._require_no_mirror(own, there)
        odd = one_that_disagrees(own, there, scaled=self.asked.scaled, tolerance=tolerance)
        worst = names[int(np.argmax(fit.misses))] if odd is None else names[odd]
        said = "disagrees with the rest" if odd is not None and len(names) > 3 else "is the worst"
        raise self._refused(
            f"the common points miss their places by more than {tolerance:g} {unit}: {listed}; "
            f"{worst} {said}: measure it again or leave it out"
        )

    def _require_no_mirror(self, own: FloatArray, there: FloatArray) -> None:
        over = fit_rigid(own, there, scaled=self.asked.scaled, mirrored=True)
        if over.misses.max() <= self._tolerance():
            raise self._refused(
                "the common points fit only mirrored: are easting and northing swapped in their "
                "site places?"
            )

    def _require_level(self, one: Common, miss: float) -> None:
        if miss > self._tolerance():
            raise self._refused(
                f"the heights of the common points disagree: {one.point} is {miss:.3f} "
                f"{self.site.unit.name} off, more than {self._tolerance():g}: measure it again or "
                "leave its elevation out"
            )

    def _refused(self, message: str) -> SurveyError:
        return _fault(self.positions, message, f"{KEY}.common")

    def _sentence(self, fit: Fit) -> str:
        unit = self.site.unit.name
        names = [one.point for one in self.asked.common]
        worst = int(np.argmax(fit.misses))
        turned = math.degrees(math.atan2(fit.turn[1, 0], fit.turn[0, 0]))
        scale = f", scale {fit.scale:.6f}" if self.asked.scaled else ""
        return (
            f"{self.positions.file}: fitted to {len(names)} common points, turned {turned:+.4f} "
            f"degrees{scale}; they miss by "
            + ", ".join(f"{n} {m:.3f}" for n, m in zip(names, fit.misses, strict=True))
            + f" {unit}, {names[worst]} the most."
        )


def _told(positions: Positions, asked: PhoneAsked, site: Site) -> list[str]:
    told = [
        f"{positions.file}: {count(len(positions), 'position')} taken as WGS 84"
        + (f" and projected to {site.crs}" if site.crs else "")
        + "; another datum can lie a metre or two off."
    ]
    if asked.heights == "sea level":
        told.append(
            f"{positions.file}: heights taken as the phone has them, above a sea level of its own "
            "that can lie a metre or more off the site's datum."
        )
    known = positions.vertical[np.isfinite(positions.vertical)]
    if not len(known):
        told.append(
            f"{positions.file}: {UNKNOWN}; phones are commonly several metres off in height "
            "(common practice, no source). If you know it, write existing.accuracy."
        )
    elif np.median(known) * float(asked.unit.metres) >= MEANINGLESS:
        told.append(
            f"{positions.file}: its heights are stated good to {np.median(known):.1f} "
            f"{asked.unit.name} only (one standard deviation, the median): {NO_VOLUME}; see the "
            "plus-or-minus."
        )
    return told
