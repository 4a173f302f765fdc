"""What the coordinate records of a cloud state: WKT and GeoTIFF keys, plan and height apart.

GeoTIFF keys are those of GeoTIFF 1.1 (OGC 19-008): 1024 model type, 2048 geographic CRS, 3072
projected CRS, 3076 linear unit, 4096 vertical CRS, 4099 vertical unit.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import pyproj
from pyproj.exceptions import CRSError

from terrain.base.errors import Fault, SurveyError
from terrain.base.units import LENGTH_UNITS, LengthUnit

RecordKind = Literal["wkt", "geotiff"]
_UNIT_OF_EPSG = {9001: "m", 9002: "ft", 9003: "ftUS"}
_MODEL, _GEOGRAPHIC, _PROJECTED, _LINEAR = 1024, 2048, 3072, 3076
_VERTICAL_CRS, _VERTICAL_UNIT = 4096, 4099
_USER_DEFINED = 32767
# How sure pyproj must be, of 100, that a CRS without a code is the one of that EPSG code.
_LIKENESS = 25


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """What one record says: units by name ("ft", "ftUS", "m") or None where it is silent.

    `problems` are sentences on what in the record can't be understood or contradicts itself.
    """

    record: RecordKind
    crs_name: str
    crs: pyproj.CRS | None
    geographic: bool
    horizontal: str | None
    vertical: str | None
    problems: tuple[str, ...] = ()

    @property
    def epsg(self) -> int | None:
        """The EPSG code of the horizontal CRS, None if it has none."""
        return None if self.crs is None else self.crs.to_epsg(min_confidence=_LIKENESS)


def unit_of_axis(crs: pyproj.CRS, axis: int) -> tuple[str | None, str]:
    """The unit of one axis by name, and no words, or None and what the unit is said to be."""
    if axis >= len(crs.axis_info):
        return None, ""
    info = crs.axis_info[axis]
    for name, unit in LENGTH_UNITS.items():
        # The two feet differ by 2e-6; records print the factor to nine digits or more.
        if abs(info.unit_conversion_factor - float(unit.metres)) < 1e-9:
            named_foot = "foot" in info.unit_name.casefold() or "feet" in info.unit_name.casefold()
            if name == "m" and named_foot:
                break
            return name, ""
    return None, f"{info.unit_name} of {info.unit_conversion_factor:.12g}"


def from_wkt(text: str) -> Stated:
    """What a WKT record says; text that can't be parsed becomes a problem, not an error."""
    try:
        whole = pyproj.CRS.from_wkt(text.strip("\0 \r\n\t"))
    except CRSError:
        return Stated(
            record="wkt", crs_name="unreadable", crs=None, geographic=False, horizontal=None,
            vertical=None, problems=("its WKT record can't be read",),
        )  # fmt: skip
    parts = whole.sub_crs_list or [whole]
    plan = parts[0].source_crs if parts[0].is_bound and parts[0].source_crs else parts[0]
    problems = []
    horizontal, odd = (None, "") if plan.is_geographic else unit_of_axis(plan, 0)
    if odd:
        problems.append(f"its WKT record gives the plan in an unknown unit ({odd})")
    vertical = None
    upright = next((part for part in parts[1:] if part.is_vertical), None)
    if upright is not None:
        vertical, odd = unit_of_axis(upright, 0)
    elif len(plan.axis_info) == 3:
        vertical, odd = unit_of_axis(plan, 2)
    else:
        odd = ""
    if odd:
        problems.append(f"its WKT record gives heights in an unknown unit ({odd})")
    if not plan.is_geographic and not plan.is_projected and not plan.is_engineering:
        problems.append(f'its WKT record "{plan.name}" is neither projected nor geographic')
    return Stated(
        record="wkt", crs_name=plan.name, crs=plan, geographic=plan.is_geographic,
        horizontal=horizontal, vertical=vertical, problems=tuple(problems),
    )  # fmt: skip


def from_geotiff(keys: Mapping[int, int]) -> Stated:
    """What GeoTIFF keys say: a code stated twice in two ways is a problem."""
    problems: list[str] = []
    projected = _crs_of(keys.get(_PROJECTED), "projected", problems)
    geographic = projected is None and (
        keys.get(_MODEL) == 2 or (keys.get(_MODEL) is None and _GEOGRAPHIC in keys)
    )
    plan = _crs_of(keys.get(_GEOGRAPHIC), "geographic", problems) if geographic else projected
    by_key = _unit_of(keys.get(_LINEAR), "3076", problems)
    by_crs = unit_of_axis(projected, 0)[0] if projected is not None else None
    if by_key and by_crs and by_key != by_crs:
        problems.append(
            f"its GeoTIFF keys contradict each other: 3072 is EPSG:{keys[_PROJECTED]} in "
            f"{by_crs}, 3076 says {by_key}"
        )
    upright = _crs_of(keys.get(_VERTICAL_CRS), "vertical", problems)
    height_by_key = _unit_of(keys.get(_VERTICAL_UNIT), "4099", problems)
    height_by_crs = unit_of_axis(upright, 0)[0] if upright is not None else None
    if height_by_key and height_by_crs and height_by_key != height_by_crs:
        problems.append(
            f"its GeoTIFF keys contradict each other: 4096 is EPSG:{keys[_VERTICAL_CRS]} in "
            f"{height_by_crs}, 4099 says {height_by_key}"
        )
    return Stated(
        record="geotiff",
        crs_name="user-defined" if plan is None else plan.name,
        crs=plan,
        geographic=geographic,
        horizontal=None if geographic else by_key or by_crs,
        vertical=height_by_key or height_by_crs,
        problems=tuple(problems),
    )


def _crs_of(code: int | None, kind: str, problems: list[str]) -> pyproj.CRS | None:
    if code is None or code in (0, _USER_DEFINED):
        return None
    try:
        crs = pyproj.CRS.from_epsg(code)
    except CRSError:
        crs = None
    if crs is None or not getattr(crs, f"is_{kind}"):
        # Vertical codes of GeoTIFF 1.0 were not EPSG's; key 4099 still tells the unit.
        if kind != "vertical":
            problems.append(f"its GeoTIFF keys name EPSG:{code}, which is no {kind} CRS")
        return None
    return crs


def _unit_of(code: int | None, key: str, problems: list[str]) -> str | None:
    if code is None or code in (0, _USER_DEFINED):
        return None
    unit = _UNIT_OF_EPSG.get(code)
    if unit is None:
        problems.append(f"its GeoTIFF key {key} gives unit code {code}, which is not known here")
    return unit


def job_crs(text: str, unit: LengthUnit) -> pyproj.CRS:
    """The CRS a job names, projected and in the job's unit.

    Errors: `SurveyError` at key `site.crs`.
    """
    try:
        crs = pyproj.CRS.from_user_input(text)
    except CRSError as error:
        raise SurveyError(
            Fault(
                key="site.crs", message=f'"{text}" is no CRS known here; write "EPSG:" and a code.'
            )
        ) from error
    plan = (crs.sub_crs_list or [crs])[0]
    if not plan.is_projected:
        raise SurveyError(
            Fault(key="site.crs", message=f"{text} ({plan.name}) is not projected: name a grid.")
        )
    stated, odd = unit_of_axis(plan, 0)
    if stated != unit.name:
        raise SurveyError(
            Fault(
                key="site.crs",
                message=f"{text} ({plan.name}) is in {stated or odd} but site.length_unit is "
                f'"{unit.name}".',
            )
        )
    return plan
