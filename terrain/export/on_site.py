"""What every file of drawn things tells of where and in what it is."""

from typing import Protocol

from terrain.base.frame import LocalFrame
from terrain.base.units import LengthUnit


class OnSite(Protocol):
    """Drawn things of a job: its title, unit, CRS (None for a local grid), date and frame."""

    @property
    def title(self) -> str:
        """The job's title."""

    @property
    def unit(self) -> LengthUnit:
        """The job's length unit."""

    @property
    def crs(self) -> str | None:
        """The CRS as the job gives it."""

    @property
    def date(self) -> str:
        """Of the answer, year-month-day."""

    @property
    def frame(self) -> LocalFrame:
        """The frame that things are drawn in."""
