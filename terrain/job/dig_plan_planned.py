"""A job with every order of digging solved: what the words, passes and pages are told from."""

from dataclasses import dataclass

from terrain.haul.compare import Solved, Terms
from terrain.haul.field import Field
from terrain.haul.legs import Leg
from terrain.haul.machine import Machine
from terrain.haul.places import Places
from terrain.haul.rates import Rates
from terrain.haul.round import Round
from terrain.job.dig_plan_site import Needs, SpoilAsked
from terrain.job.dig_plan_start import Start
from terrain.job.volumes import Worked


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """A job with every order of digging solved, best first; all in the local frame.

    `legs` go counter-clockwise; places, needs and the legs' numbers follow them.
    """

    worked: Worked
    start: Start
    machine: Machine
    typical: tuple[str, ...]
    spoil: SpoilAsked
    legs: tuple[Leg, ...]
    field: Field
    rounds: tuple[Round, Round]
    places: Places
    needs: Needs
    rates: Rates
    terms: Terms
    orders: tuple[Solved, ...]

    @property
    def best(self) -> Solved:
        """The first of them."""
        return self.orders[0]
