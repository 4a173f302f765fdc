"""The stated doubt on real ground: an open elevation model thinned to shots, against all of it."""

import numpy as np
import pytest
import rasterio

from terrain.ledger.between import between_shots
from terrain.ledger.doubt import Terms, doubt_of
from terrain.ledger.errors_said import SurveyErrors
from terrain.ledger.ground import Ground
from terrain.ledger.hats import hats_between
from terrain.ledger.weights import weights_of
from terrain.surface.patches import from_polygons
from terrain.surface.tin import build_tin, tin_surface
from tests.real import open_data

SIDE = 50
HOUSE = np.array([[17.0, 19.0], [33.0, 19.0], [33.0, 31.0], [17.0, 31.0]])
LOTS = 70


@pytest.fixture(scope="module")
def model(cache):
    with rasterio.open(open_data.elevation_model(cache)) as file:
        return file.read(1).astype(np.float64)


def thinned(rng, how, count):
    """Cells of a lot that are shot: anywhere, or as a person walks a rough grid."""
    if how == "anywhere":
        return rng.choice(SIDE * SIDE, count, replace=False)
    along = round(count**0.5)
    lines = np.linspace(0, SIDE - 1, along)
    step = SIDE / along / 4
    rows, columns = (
        np.clip(np.round(lines + rng.uniform(-step, step, (along, along))), 0, SIDE - 1)
        for _ in range(2)
    )
    return np.unique(rows.T.astype(int) * SIDE + columns.astype(int))


def off_by(model, seed, how, count, noise):
    """Error of the volume over a house of 16 by 12 m and the standard deviation said of it."""
    rng = np.random.default_rng([23, seed])
    top, left = rng.integers(0, 400 - SIDE, 2)
    lot = model[top : top + SIDE, left : left + SIDE]
    rows, columns = np.divmod(thinned(rng, how, count), SIDE)
    height = lot[rows, columns] + noise * rng.normal(size=len(rows))
    tin = build_tin(np.column_stack([columns, rows, height]).astype(np.float64))
    ground = Ground(
        surface=tin_surface(tin), points=tin.points, triangles=tin.triangles,
        errors=SurveyErrors(accuracy=noise),
    )  # fmt: skip
    floor = from_polygons([HOUSE], np.array([[0.0, 0.0, 0.0, 0.0, 0.0]]), np.array([0]))
    weights = weights_of(hats_between(ground, floor, "above"))[0]
    if abs(weights.plan_area - 192.0) > 1e-6:  # the shots do not reach round the house
        return None
    cells = lot[19:32, 17:34]
    # the mean of a cell's two triangulations is the mean of its corners
    exact = (cells[:-1, :-1] + cells[1:, :-1] + cells[:-1, 1:] + cells[1:, 1:]).sum() / 4
    terms = Terms(
        errors=ground.errors, plan=tin.points[:, :2], between=between_shots(ground, weights.spots)
    )
    seen = weights.by_elevation @ tin.points[weights.shot, 2]
    return seen - exact, doubt_of(weights, terms).together / 1.96


@pytest.mark.parametrize(
    ("how", "count", "noise"),
    [("anywhere", 49, 0.0), ("anywhere", 100, 0.03), ("walked", 25, 0.0), ("walked", 64, 0.0),
     ("walked", 144, 0.03)],
)  # fmt: skip
def test_thinned_to_shots_the_whole_models_volume_is_within_what_is_said(model, how, count, noise):
    """Over 70 lots, flat to steep: at least nine in ten within, and errors as wide as said.

    A twentieth may be outside; one standard deviation of a share of 0.95 is 0.026 here, of a spread
    8.5 %.
    """
    trials = [off_by(model, seed, how, count, noise) for seed in range(LOTS)]
    error, said = np.array([t for t in trials if t is not None]).T
    assert len(error) > 0.9 * LOTS
    assert np.mean(abs(error) < 1.96 * said) >= 0.9
    assert 0.7 < np.sqrt(np.mean((error / said) ** 2)) < 1.25
