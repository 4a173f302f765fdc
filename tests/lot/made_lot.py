"""A rectangular house on a lot, and grounds to finish round it."""

import numpy as np
from scipy.spatial import Delaunay

from terrain.base.frame import LocalFrame
from terrain.base.units import FOOT
from terrain.lot.design import Apron, Keep, LotDesign, Pad, Swale
from terrain.lot.finish import finished
from terrain.surface.patches import from_polygons
from tests.surface.made_surfaces import triangles_surface

HOUSE = np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 30.0], [0.0, 30.0]])
LOT = np.array([[-60.0, -60.0], [100.0, -60.0], [100.0, 90.0], [-60.0, 90.0]])
BEYOND = np.array([[-90.0, -90.0], [130.0, -90.0], [130.0, 120.0], [-90.0, 120.0]])
WALLS = ("front", "right", "back", "left")


def rotation(degrees):
    turn = np.radians(degrees)
    return np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])


def plane(upward, per_easting=0.0, per_northing=0.0, degrees=0.0):
    """One plane face over the lot and well beyond it; heights are given before it is turned."""
    turn = rotation(degrees)
    gradient = np.array([per_easting, per_northing]) @ turn
    return from_polygons([BEYOND @ turn], np.array([[0.0, 0.0, upward, *gradient]]), [0])


def waves(count=60):
    """A smooth ground: triangles through two crossing waves."""
    u, v = np.linspace(-90.0, 130.0, count), np.linspace(-90.0, 120.0, count)
    east, north = np.meshgrid(u, v)
    up = 100.0 + 2.0 * np.sin(east / 30.0) + 1.5 * np.cos(north / 20.0)
    points = np.column_stack([east.ravel(), north.ravel(), up.ravel()])
    return triangles_surface(points, Delaunay(points[:, :2]).simplices)


def apron(fall=0.05, grade=101.0, slope=3.0, distance=10.0):
    return Apron(
        grades=np.full((4, 2), float(grade)),
        fall=fall,
        fall_distance=distance,
        cut_slope=slope,
        fill_slope=slope,
    )


def design(boundary=LOT, house=HOUSE, walls=WALLS, degrees=0.0, **parts):
    turn = rotation(degrees)
    return LotDesign(
        house=house @ turn,
        walls=walls,
        boundary=np.asarray(boundary, dtype=float) @ turn,
        apron=parts.pop("apron", apron()),
        **parts,
    )


def lot(**asked):
    """The finished lot; `asked` as for `design`."""
    wanted = design(**asked)
    spread = np.column_stack([BEYOND, [70.0, 130.0, 70.0, 130.0]])
    return finished(wanted, spread, LocalFrame(), FOOT)


def pad(corners, upward, per_easting=0.0, per_northing=0.0, name="drive"):
    """A pad whose height is `upward` at its first corner."""
    corners = np.array(corners, dtype=float)
    on = np.array([*corners[0], upward, per_easting, per_northing])
    return Pad(name=name, corners=corners, plane=on, key="lot.pads[1]")


def swale(line, inverts, width=2.0):
    return Swale(
        name="ditch",
        line=np.array(line, dtype=float),
        inverts=np.array(inverts, dtype=float),
        width=width,
        side=((3.0, 1.0),),
        key="lot.swales[1]",
    )


def keep(corners):
    return Keep(name="oak", corners=np.array(corners, dtype=float), key="lot.keep[1]")
