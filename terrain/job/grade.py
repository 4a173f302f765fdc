"""The question of the finished lot: what each side gives and needs, and where it all balances."""

from terrain.job.balance import balance_of
from terrain.job.drainage import Drainage, drainage
from terrain.job.drainage_cautions import drainage_cautions
from terrain.job.grade_answer import GradeAnswer, StructureVolumes, Untied
from terrain.job.graded import Graded, grade_out
from terrain.job.load import Job
from terrain.job.lot_cautions import lot_cautions
from terrain.job.notes import spike_notes
from terrain.job.soil_used import swell_words
from terrain.job.volumes import Progress, work_out
from terrain.ledger.lot_doubt import LotDoubts, lot_doubts, lot_weights
from terrain.ledger.lot_rows import lot_rows
from terrain.lot.rays import Settling


def _silent(stage: str) -> None:
    """Say nothing."""


def grade(job: Job, progress: Progress = _silent) -> GradeAnswer:
    """Backfill, grade fill, stone, cut and surplus by side of the house, and the lot's balance.

    Args:
        job: the job as its file tells it.
        progress: called with a few words as each stage begins.

    Raises:
        SpoilbankError: the job can't be computed as asked; the faults say where and why.

    >>> from terrain.job.load import load_job
    >>> answer = grade(load_job("terrain/cli/demo_job/job.toml"))
    >>> answer.volume_unit, len(answer.walls) > 3, answer.balance.wall_grade is not None
    ('yd3', True, True)
    """
    return graded_told(grade_out(work_out(job, progress), progress), progress)


def graded_told(graded: Graded, progress: Progress = _silent) -> GradeAnswer:
    """The answer of a lot that is worked out."""
    worked, asked = graded.worked, graded.asked
    job, structure = worked.job, asked.structure
    rows, total = lot_rows(graded.account, asked.sides.names, asked.terms)
    progress("following the water")
    drained = drained_of(graded)
    progress("looking for the balance")
    own_swell = tuple(f"{title} {words}." for title, words in swell_words(worked))
    to_site = worked.layout.frame.to_site
    untied = tuple(
        Untied(
            where=jump.where,
            start=(float(to_site(jump.start)[0]), float(to_site(jump.start)[1])),
            end=(float(to_site(jump.end)[0]), float(to_site(jump.end)[1])),
            height=jump.height,
        )
        for jump in graded.untied
    )
    volume = job.unit.volume
    return GradeAnswer(
        title=job.title,
        length_unit=job.unit.name,
        volume_unit=job.unit.volume_name,
        walls=rows,
        lot=total,
        structure=StructureVolumes(
            footing=volume(structure.footing_volume),
            wall=volume(structure.wall_volume),
            stone=sum(row.stone for row in rows),
            slab_base=volume(structure.slab_base_volume),
        ),
        balance=balance_of(graded),
        untied=untied,
        drainage=drained,
        cautions=(*lot_cautions(graded, untied), *drainage_cautions(drained, job.unit)),
        notes=(
            *worked.existing.notes,
            *spike_notes(worked.existing, job.unit.name),
            *asked.notes,
            *own_swell,
        ),
        assumed=(*asked.notes, *own_swell),
        doubts=doubts_of(graded),
        currency=None if job.billing is None else job.billing.currency,
    )


def doubts_of(graded: Graded) -> LotDoubts | None:
    """The doubts of the lot's volumes, in the job's volume unit."""
    worked, doubts = graded.worked, graded.worked.figures.doubts
    if doubts is None:
        return None
    ground = worked.existing.ground
    weights = lot_weights(ground, worked.dig, graded.dug, graded.lot, graded.account)
    return lot_doubts(weights, doubts.terms, graded.asked.terms).times(worked.job.unit.volume(1.0))


def drained_of(graded: Graded) -> Drainage:
    """What water does on the finished lot, once the backfill has settled as the job says."""
    worked = graded.worked
    job = worked.job
    share = job.lot.settlement if job.lot is not None else 0.0
    settling = Settling(dig=worked.dig.surface, share=share) if share > 0 else None
    ground = worked.existing.ground.surface
    return drainage(ground, graded.lot, settling, worked.layout.frame, job.unit)
