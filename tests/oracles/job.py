"""What a job must answer, row by row, by the slow way: `python -m tests.oracles.job JOB.toml`.

Reads only the keys the fixtures use. The ground is triangulated from its definition (a few
hundred shots) or by scipy (a cloud, where no line is held); the dig is swept by the oracle's own
outline; volumes are shapely polygons in pairs. Nothing of the engine is imported.
"""

import csv
import itertools
import json
import math
import sys
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import laspy
import numpy as np
import shapely
from scipy.spatial import Delaunay

from tests.oracles import dig, faces, ground

PARTS = ("core", "overdig", "side", "footing")
SWELL_SHRINK = {"common earth": (0.25, 0.10)}
GROUND_CLASS = 2


@dataclass
class Terrain:
    """Shots (n, 3), less a whole-number origin in plan, and triangles (m, 3)."""

    points: np.ndarray
    corners: np.ndarray
    origin: np.ndarray


def read_terrain(job: dict[str, Any], folder: Path) -> Terrain:
    """The ground of a job."""
    name = job["existing"]["shots"][0]
    codes: list[str] = []
    if name.endswith(".laz"):
        cloud = laspy.read(folder / name)
        points = np.column_stack([cloud.x, cloud.y, cloud.z])[cloud.classification == GROUND_CLASS]
    else:
        with open(folder / name, newline="", encoding="utf-8") as file:
            rows = list(csv.DictReader(file))
        codes = [row["code"] for row in rows]
        points = np.array(
            [[float(row[k]) for k in ("easting", "northing", "elevation")] for row in rows]
        )
    origin = np.append(np.round(np.mean(job["foundation"]["corners"], axis=0)), 0.0)
    points = points - origin
    lines = []
    for code in job["existing"].get("breaklines", []):
        shots = [i for i, c in enumerate(codes) if c == code]
        lines += list(itertools.pairwise(shots))
    if lines:
        return Terrain(points, ground.triangles(points[:, :2], lines), origin)
    return Terrain(points, Delaunay(points[:, :2]).simplices, origin)


def near(terrain: Terrain, dug: list[faces.Face]) -> list[faces.Face]:
    """The triangles that the box round the dig touches, as faces."""
    west, south, east, north = shapely.total_bounds([f.polygon for f in dug])
    corners = terrain.points[terrain.corners][:, :, :2]
    low, high = corners.min(axis=1), corners.max(axis=1)
    seen = (low <= [east, north]).all(axis=1) & (high >= [west, south]).all(axis=1)
    out = ground.tin_faces(terrain.points, terrain.corners[seen])
    for face, number in zip(out, np.flatnonzero(seen), strict=True):
        face.label = number
    return out


def read_pit(job: dict[str, Any], origin: np.ndarray) -> dig.Pit:
    """The main dig of a job; corners must be counter-clockwise."""
    table = job["dig"]
    overdig, side = [], []
    for wall in job["foundation"]["walls"]:
        own = table.get("walls", {}).get(wall, {})
        overdig.append(own.get("overdig", table["overdig"]))
        steps = own.get("side", table["side"])
        side.append([tuple(s) for s in steps] if isinstance(steps, list) else [(steps, 1.0)])
    corners = np.array(job["foundation"]["corners"]) - origin[:2]
    return dig.Pit(corners, overdig, side, table["floor"])


def read_extras(job: dict[str, Any], terrain: Terrain) -> list[tuple[str, str, list[faces.Face]]]:
    """Pits, ramps and trenches in their order; ramps with vertical sides only."""
    table, out = job["dig"], []

    def local(line: list[list[float]]) -> list[list[float]]:
        return (np.array(line) - terrain.origin[:2]).tolist()

    def with_sides(body: Any, own: dict[str, Any]) -> list[faces.Face]:
        ring = shapely.get_coordinates(shapely.orient_polygons(body))[:-1]
        side = own.get("side", 0.0)
        steps = [tuple(s) for s in side] if isinstance(side, list) else [(side, 1.0)]
        count = len(ring)
        pit = dig.Pit(ring, [own.get("overdig", 0.0)] * count, [steps] * count, own["floor"])
        return dig.faces(pit, max(float(terrain.points[:, 2].max()) - pit.floor, 0.0))

    for pit in table.get("pits", []):
        body = shapely.Polygon(local(pit["corners"]))
        out.append((pit["name"], "pit", with_sides(body, pit)))
    for way in table.get("ramps", []):
        body = dig.ramp(local(way["line"]), way["width"], way["run_per_rise"], table["floor"])
        out.append((way["name"], "ramp", body))
    for ditch in table.get("trenches", []):
        strip = dig.trench(local(ditch["line"]), ditch["width"], ditch["floor"])
        out.append((ditch["name"], "trench", with_sides(strip[0].polygon, ditch)))
    return out


def footing_strips(job: dict[str, Any], pit: dig.Pit) -> tuple[list[Any], float]:
    """Each wall's footing trench in plan, and how deep it goes below the floor."""
    footing = job["foundation"].get("footing", {})
    if "bottom" not in footing:
        return [], 0.0
    count = len(pit.corners)
    outer = dig.dig_corners(dig.Pit(pit.corners, [footing["projection"]] * count, [], 0.0))
    inside = footing["projection"] - footing["width"]
    inner = dig.dig_corners(dig.Pit(pit.corners, [inside] * count, [], 0.0))
    strips = []
    for k in range(count):
        after = (k + 1) % count
        strips.append(shapely.Polygon([outer[k], outer[after], inner[after], inner[k]]))
    return strips, pit.floor - footing["bottom"]


class Sums:
    """Volume, topsoil and shot weights of one dig surface, by label."""

    def __init__(self, terrain: Terrain, dug: list[faces.Face], strip: float) -> None:
        self.volume: dict[Any, float] = {}
        self.weight: dict[Any, np.ndarray] = {}
        self.area = self.deepest = 0.0
        triangles = near(terrain, dug)
        for polygon, i, j in faces.cut(triangles, dug):
            depth = triangles[i].plane - dug[j].plane
            label = dug[j].label
            body = polygon.area * faces.at(depth, polygon)
            self.volume[label] = self.volume.get(label, 0.0) + body
            corners = shapely.get_coordinates(polygon)
            self.deepest = max(self.deepest, float((depth[0] + corners @ depth[1:]).max()))
            self.area += polygon.area
            weight = self.weight.setdefault(label, np.zeros(len(terrain.points)))
            _add_hats(weight, terrain, triangles[i].label, polygon)
        stripped = faces.volume_by_label(faces.shifted(triangles, -strip), dug)
        self.topsoil = {k: v - stripped.get(k, 0.0) for k, v in self.volume.items()}

    def total(self, numbers: dict[Any, float]) -> float:
        """The sum over labels."""
        return math.fsum(numbers.values())

    def weights(self) -> np.ndarray:
        """The weights of the whole."""
        return np.sum(list(self.weight.values()), axis=0)


def _add_hats(weight: np.ndarray, terrain: Terrain, triangle: int, polygon: Any) -> None:
    shots = terrain.corners[triangle]
    middle = np.array([polygon.centroid.x, polygon.centroid.y])
    a, b, c = terrain.points[shots, :2]
    shares = np.linalg.solve(np.column_stack([b - a, c - a]), middle - a)
    weight[shots] += polygon.area * np.array([1 - shares.sum(), *shares])


def expected(path: Path) -> dict[str, Any]:
    """The answer to `volumes`, to the same keys, by the oracle."""
    with open(path, "rb") as file:
        job = tomllib.load(file)
    unit = {"ft": 27.0, "ftUS": 27.0, "m": 1.0}[job["site"]["length_unit"]]
    terrain = read_terrain(job, path.parent)
    pit = read_pit(job, terrain.origin)
    strip = job["dig"].get("topsoil_strip", 0.0)
    main = dig.faces(pit, float(terrain.points[:, 2].max()) - pit.floor)
    sums = Sums(terrain, main, strip)
    strips, depth = footing_strips(job, pit)
    doubt = _doubt(job, unit)
    walls = []
    for number, name in enumerate(job["foundation"]["walls"]):
        parts = {p: sums.volume.get((number, p), 0.0) / unit for p in PARTS}
        parts["footing"] = strips[number].area * depth / unit if strips else 0.0
        topsoil = math.fsum(v for k, v in sums.topsoil.items() if k[0] == number) / unit
        weight = np.sum([w for k, w in sums.weight.items() if k[0] == number], axis=0)
        row = {"wall": name, **_measures(job, math.fsum(parts.values())), "topsoil": topsoil}
        walls.append({**row, "survey_plus_minus_95": doubt(weight), "parts": parts})
    pits, before, dug = [], sums, main
    for name, kind, body in read_extras(job, terrain):
        dug = faces.lower_of(dug, body)
        after = Sums(terrain, dug, strip)
        bank = (after.total(after.volume) - before.total(before.volume)) / unit
        topsoil = (after.total(after.topsoil) - before.total(before.topsoil)) / unit
        row = {"name": name, "kind": kind, **_measures(job, bank), "topsoil": topsoil}
        pits.append({**row, "survey_plus_minus_95": doubt(after.weights() - before.weights())})
        before = after
    bank = math.fsum(row["bank"] for row in walls + pits)
    total = {**_measures(job, bank), "topsoil": math.fsum(r["topsoil"] for r in walls + pits)}
    total["survey_plus_minus_95"] = doubt(before.weights())
    if "truck" in job.get("haul", {}):
        total["loads"] = math.ceil(total["loose"] / job["haul"]["truck"])
    floor = [faces.Face(s, faces.level(pit.floor - depth)) for s in strips]
    deepest = max([before.deepest] + ([Sums(terrain, floor, 0.0).deepest] if floor else []))
    return {
        "total": total, "walls": walls, "pits": pits,
        "daylight_area": before.area, "deepest_cut": deepest,
    }  # fmt: skip


def _doubt(job: dict[str, Any], unit: float):
    shot, datum = job["existing"]["accuracy"], job["existing"]["datum_accuracy"]

    def plus_minus(weight: np.ndarray) -> float:
        variance = shot**2 * (weight**2).sum() + datum**2 * weight.sum() ** 2
        return 1.96 * math.sqrt(variance) / unit

    return plus_minus


def _measures(job: dict[str, Any], bank: float) -> dict[str, float]:
    swell, shrink = SWELL_SHRINK.get(job["soil"]["material"], (None, None))
    swell, shrink = job["soil"].get("swell", swell), job["soil"].get("shrink", shrink)
    return {"bank": bank, "loose": bank * (1 + swell), "compacted": bank * (1 - shrink)}


if __name__ == "__main__":
    print(json.dumps(expected(Path(sys.argv[1])), indent=1))
