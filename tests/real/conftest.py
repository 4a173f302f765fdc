"""Open data for the whole session, kept in pytest's cache between runs."""

from pathlib import Path

import numpy as np
import pytest

from tests.real.lots import cells, spot_heights


@pytest.fixture(scope="session")
def cache(request) -> Path:
    return Path(request.config.cache.mkdir("open-data"))


@pytest.fixture(scope="session")
def lots(cache) -> dict[str, np.ndarray]:
    return cells(cache)


@pytest.fixture(scope="session")
def heights(cache) -> np.ndarray:
    """The spot heights (52, 3) in feet."""
    return spot_heights(cache)
