"""Jobs that are drawn once for all tests of the files made from them."""

import pytest

from tests.export.drawn import DEMO, SITES, drawn, write_job


@pytest.fixture(scope="session")
def demo():
    return drawn(DEMO)


@pytest.fixture(scope="session", params=["demo", *SITES])
def job(request, tmp_path_factory):
    """The answer and the layers of one job after the other."""
    if request.param == "demo":
        return request.getfixturevalue("demo")
    return drawn(write_job(tmp_path_factory.mktemp(request.param), request.param))


@pytest.fixture(scope="session")
def nothing_dug(tmp_path_factory):
    """A floor high above the ground: a job that takes nothing out."""
    return drawn(write_job(tmp_path_factory.mktemp("nothing"), "local", floor=200.0))
