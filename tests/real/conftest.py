"""Open data for the whole session, kept in pytest's cache between runs."""

from pathlib import Path

import numpy as np
import pytest
import rasterio

from tests.real import open_data

LOT = 40
LOTS = {"flat": (160, 0), "medium": (140, 120), "steep": (300, 40)}
FEET_PER_UNIT = 50.0


@pytest.fixture(scope="session")
def cache(request) -> Path:
    return Path(request.config.cache.mkdir("open-data"))


@pytest.fixture(scope="session")
def lots(cache) -> dict[str, np.ndarray]:
    """Cell centres (1600, 3) of each 40 m lot: UTM easting, northing, elevation, in metres.

    The grid's origin is taken to the whole metre, so that a move of the lot loses no digit.
    """
    with rasterio.open(open_data.elevation_model(cache)) as model:
        assert model.crs.to_epsg() == 26915
        assert tuple(model.transform)[:6:2] == (1.0, model.transform.c, -1.0)
        upward = model.read(1).astype(np.float64)
        out = {}
        for name, (top, left) in LOTS.items():
            rows, columns = np.mgrid[top : top + LOT, left : left + LOT]
            easting = round(model.transform.c) + columns.ravel() + 0.5
            northing = round(model.transform.f) - rows.ravel() - 0.5
            here = upward[top : top + LOT, left : left + LOT].ravel()
            out[name] = np.column_stack([easting, northing, here])
    return out


@pytest.fixture(scope="session")
def heights(cache) -> np.ndarray:
    """The spot heights (52, 3) in feet."""
    rows = open_data.spot_heights(cache).read_text(encoding="utf-8").splitlines()[1:]
    values = np.array([[float(v) for v in row.split(",")[-3:]] for row in rows])
    return values * [FEET_PER_UNIT, FEET_PER_UNIT, 1.0]
