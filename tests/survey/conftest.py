"""Makers of survey files, each into a folder of its own."""

from collections.abc import Callable
from pathlib import Path

import laspy
import numpy as np
import pytest
from laspy.vlrs.known import GeoKeyDirectoryVlr, WktCoordinateSystemVlr
from laspy.vlrs.vlr import VLR

from terrain.base.units import FOOT
from terrain.survey.read import ReadOptions, Survey, read_shots


@pytest.fixture
def read(tmp_path: Path) -> Callable[..., Survey]:
    """Write files by name (str, bytes) and read them all; other keywords are options."""

    def call(files: dict[str, str | bytes], **options: object) -> Survey:
        for name, content in files.items():
            data = content.encode() if isinstance(content, str) else content
            (tmp_path / name).write_bytes(data)
        chosen = {"unit": FOOT, "folder": tmp_path, **options}
        return read_shots(list(files), ReadOptions(**chosen))

    return call


def geo_keys(keys: dict[int, int]) -> VLR:
    """A GeoTIFF key directory with these keys and values, each stored in place."""
    numbers = [1, 1, 0, len(keys)]
    for key, value in sorted(keys.items()):
        numbers += [key, 0, 1, value]
    return VLR(
        user_id="LASF_Projection",
        record_id=GeoKeyDirectoryVlr.official_record_ids()[0],
        record_data=np.array(numbers, dtype="<u2").tobytes(),
    )


@pytest.fixture
def make_cloud(tmp_path: Path) -> Callable[..., str]:
    """Write a cloud and give its name: points (n, 3) of integers, classes, flags, records."""

    def call(
        points: np.ndarray,
        name: str = "scan.las",
        *,
        version: str = "1.2",
        point_format: int = 1,
        classes: object = 0,
        withheld: object = 0,
        scale: float = 0.001,
        offset: tuple[float, float, float] = (0.0, 0.0, 0.0),
        wkt: str | None = None,
        keys: dict[int, int] | None = None,
    ) -> str:
        header = laspy.LasHeader(version=version, point_format=point_format)
        header.scales, header.offsets = [scale] * 3, list(offset)
        if wkt is not None:
            header.vlrs.append(WktCoordinateSystemVlr(wkt))
        if keys is not None:
            header.vlrs.append(geo_keys(keys))
        las = laspy.LasData(header)
        las.X, las.Y, las.Z = np.asarray(points, dtype=np.int32).T
        las.classification = np.broadcast_to(classes, len(points)).astype(np.uint8)
        las.withheld = np.broadcast_to(withheld, len(points)).astype(np.uint8)
        las.write(str(tmp_path / name))
        return name

    return call
