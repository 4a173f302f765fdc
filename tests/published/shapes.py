"""Surfaces the published examples need, made of plain polygons."""

import numpy as np

from terrain.surface.overlay import overlay
from terrain.surface.patches import Surface, from_polygons


def plane_through(corners):
    """The plane record of three points (easting, northing, upward), by Cramer's rule."""
    (e, n, u), second, third = (np.asarray(c, dtype=float) for c in corners)
    ae, an, au = second - (e, n, u)
    be, bn, bu = third - (e, n, u)
    area = ae * bn - an * be
    return [e, n, u, (au * bn - an * bu) / area, (ae * bu - au * be) / area]


def faces(*polygons) -> Surface:
    """A surface of flat polygons given by corners (easting, northing, upward); label = number."""
    planes = [plane_through(p[:3]) for p in polygons]
    for polygon, (e, n, u, per_e, per_n) in zip(polygons, planes, strict=True):
        for ce, cn, cu in polygon:
            flat = u + per_e * (ce - e) + per_n * (cn - n)
            assert abs(flat - cu) < 1e-9, "the corners of an example's face are not in one plane"
    plan = [np.asarray(p, dtype=float)[:, :2] for p in polygons]
    return from_polygons(plan, np.array(planes), np.arange(len(polygons)))


def level(upward, west, south, east, north) -> Surface:
    """One level rectangle."""
    return faces(box(upward, west, south, east, north))


def box(upward, west, south, east, north):
    """The corners of a level rectangle."""
    return [(west, south, upward), (east, south, upward), (east, north, upward),
            (west, north, upward)]  # fmt: skip


def cut_and_fill(existing: Surface, finished: Surface) -> tuple[float, float]:
    """Cubic length units to dig and to fill between two surfaces."""
    found = overlay(existing, finished)
    return float(found.volume_above.sum()), float(found.volume_below.sum())
