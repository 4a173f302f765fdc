"""Triangulating shots, with breaklines and without. Error: the volume under the triangles."""

from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np
from scipy.spatial import Delaunay

from scripts.benchmarks.case import Case
from scripts.benchmarks.made import (
    Floats,
    folded_shots,
    folded_volume,
    plane_shots,
    plane_volume,
    volume_under,
)
from terrain.surface.hilbert import hilbert_order
from terrain.surface.tin import Line, Tin, build_tin

SEED = 20
VTK_OFFSET = 1e4  # how far out VTK starts; nearer, and also further, it loses more of the rim


def ours(count: int, folder: Path) -> Case[Tin]:
    """A plane's shots by the engine."""
    return _ours(plane_shots(count, SEED), [], plane_volume())


def scipy(count: int, folder: Path) -> Case[Delaunay]:
    """The same shots by scipy."""
    return _delaunay(plane_shots(count, SEED), plane_volume())


def vtk(count: int, folder: Path) -> Case[Any]:
    """The same shots by VTK."""
    return _vtk(plane_shots(count, SEED), plane_volume())


def vtk_without_lines(count: int, folder: Path) -> Case[Any]:
    """The folded shots by VTK, without the lines."""
    return _vtk(folded_shots(count)[0], folded_volume())


def _vtk(shots: Floats, exact: float) -> Case[Any]:
    """Shots by VTK, sorted along a Hilbert curve first: without it takes hours."""
    core, modelling, numpy_support = (
        import_module(f"vtkmodules.{name}")
        for name in ("vtkCommonDataModel", "vtkFiltersCore", "util.numpy_support")
    )
    points_of = import_module("vtkmodules.vtkCommonCore").vtkPoints

    def triangulated() -> Any:
        ranked = shots[hilbert_order(shots[:, :2])]
        points, cloud, maker = points_of(), core.vtkPolyData(), modelling.vtkDelaunay2D()
        points.SetData(numpy_support.numpy_to_vtk(ranked, deep=True))
        cloud.SetPoints(points)
        maker.SetInputData(cloud)
        maker.SetTolerance(0.0)
        maker.SetOffset(VTK_OFFSET)
        maker.Update()
        return maker.GetOutput()

    def error(made: Any) -> float:
        points = numpy_support.vtk_to_numpy(made.GetPoints().GetData())
        corners = numpy_support.vtk_to_numpy(made.GetPolys().GetConnectivityArray())
        return abs(volume_under(points, corners.reshape(-1, 3)) / exact - 1)

    return Case(work=triangulated, error=error)


def ours_with_lines(count: int, folder: Path) -> Case[Tin]:
    """A folded ground's shots by the engine, its folds for breaklines."""
    return _ours(*folded_shots(count), folded_volume())


def _ours(shots: Floats, lines: list[Line], exact: float) -> Case[Tin]:
    def note(tin: Tin, rose: float) -> str:
        held = sum(a.nbytes for a in (tin.points, tin.triangles, tin.neighbours, tin.shot))
        return f"holds {held / len(shots):.0f} B a point, needs {rose / len(shots):.0f} B to make"

    return Case(
        work=lambda: build_tin(shots, lines),
        error=lambda tin: abs(volume_under(tin.points, tin.triangles) / exact - 1),
        note=note,
    )


def scipy_without_lines(count: int, folder: Path) -> Case[Delaunay]:
    """The same shots by scipy, which knows no breaklines."""
    return _delaunay(folded_shots(count)[0], folded_volume())


def _delaunay(shots: Floats, exact: float) -> Case[Delaunay]:
    return Case(
        work=lambda: Delaunay(np.ascontiguousarray(shots[:, :2])),
        error=lambda made: abs(volume_under(shots, made.simplices) / exact - 1),
    )
