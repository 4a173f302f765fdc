"""The existing and the finished ground as TIN surfaces of LandXML 1.2."""

from pathlib import Path

import numpy as np

from terrain.export.surfaces_xml import EXISTING, write_meshes_xml
from terrain.job.lot_layers import LotLayers
from terrain.surface.facets import Facets

FINISHED = (
    "finished",
    "Finished ground over the lot outside the house. Where it jumps, two points stand over one "
    "spot, no face between",
    "proposed",
)


def write_lot_xml(layers: LotLayers, path: Path) -> None:
    """Write the file at `path`; coordinates are those of the site, northing first."""
    tin = layers.existing
    existing = Facets(points=tin.points, triangles=tin.triangles, label=np.zeros(0, np.int32))
    write_meshes_xml(layers, [(existing, EXISTING), (layers.finished, FINISHED)], path)
