"""A job worked out: what every answer is told from."""

from dataclasses import dataclass

from terrain.job.design import Layout
from terrain.job.ground import ExistingGround
from terrain.job.load import Job
from terrain.ledger.account import Account
from terrain.ledger.soil import SoilFactors
from terrain.pit.dig import Dig
from terrain.survey.read import Survey


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked:
    """A job worked out: everything that answers, pictures and layers are made from."""

    job: Job
    soil: SoilFactors
    survey: Survey
    layout: Layout
    existing: ExistingGround
    dig: Dig
    figures: Account
