"""Open data for the whole session, kept in pytest's cache between runs."""

from pathlib import Path

import numpy as np
import pytest

from tests.real import open_data
from tests.real.lots import cells

FEET_PER_UNIT = 50.0


@pytest.fixture(scope="session")
def cache(request) -> Path:
    return Path(request.config.cache.mkdir("open-data"))


@pytest.fixture(scope="session")
def lots(cache) -> dict[str, np.ndarray]:
    return cells(cache)


@pytest.fixture(scope="session")
def heights(cache) -> np.ndarray:
    """The spot heights (52, 3) in feet."""
    rows = open_data.spot_heights(cache).read_text(encoding="utf-8").splitlines()[1:]
    values = np.array([[float(v) for v in row.split(",")[-3:]] for row in rows])
    return values * [FEET_PER_UNIT, FEET_PER_UNIT, 1.0]
