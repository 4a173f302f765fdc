"""What the layers of a finished lot are written from: contours before and after, areas, faces."""

from dataclasses import dataclass

from terrain.base.frame import LocalFrame
from terrain.base.units import LengthUnit
from terrain.job.drainage import Drainage
from terrain.job.grade_answer import GradeAnswer, Untied
from terrain.job.graded import Graded
from terrain.job.layers import LEAST_INTERVAL
from terrain.job.lot_areas import ChangedArea, changed_areas
from terrain.lot.design import LotDesign
from terrain.lot.ground import FinishedGround, finished_ground
from terrain.surface.contours import Contours, contours, joined, usual_interval
from terrain.surface.facets import Facets, facets
from terrain.surface.tin_record import Tin


@dataclass(frozen=True, slots=True, kw_only=True)
class LotLayers:
    """Everything that is drawn of a finished lot, in the local frame `frame`.

    Args:
        crs: as the job gives it, None for a local grid.
        date: of the answer, year-month-day.
        design: lot line, house, pads, swales and areas kept.
        existing: the ground as surveyed.
        faces: finished ground over the lot outside the house; it may jump.
        finished: the same as triangles.
        before: contours of the existing ground.
        after: contours of the finished ground, over the lot outside the house.
        areas: what is cut and filled, by cause, an index into `causes`.
        untied: vertical faces, in site coordinates.
        drainage: failing falls and ponds, in site coordinates.
    """

    title: str
    unit: LengthUnit
    crs: str | None
    date: str
    frame: LocalFrame
    design: LotDesign
    existing: Tin
    faces: FinishedGround
    finished: Facets
    before: Contours
    after: Contours
    areas: tuple[ChangedArea, ...]
    causes: tuple[str, ...]
    untied: tuple[Untied, ...]
    drainage: Drainage


def lot_layers_of(graded: Graded, answer: GradeAnswer, date: str) -> LotLayers:
    """All that is drawn of a lot that is graded; `answer` is what was told of it."""
    worked, lot = graded.worked, graded.lot
    job, tin = worked.job, worked.existing.tin
    ground = worked.existing.ground.surface
    made = finished_ground(ground, lot)
    finished = facets(made.whole)
    interval = usual_interval(tin, LEAST_INTERVAL[job.unit.name])
    return LotLayers(
        title=job.title,
        unit=job.unit,
        crs=job.site.crs,
        date=date,
        frame=worked.layout.frame,
        design=lot.design,
        existing=tin,
        faces=made,
        finished=finished,
        before=contours(tin, interval),
        after=joined(contours(finished, interval)),
        areas=changed_areas(ground, tin.neighbours, lot, made),
        causes=lot.causes,
        untied=answer.untied,
        drainage=answer.drainage,
    )
