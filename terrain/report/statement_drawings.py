"""The drawings of a statement: plan and sections of the design, to scale, each with its title."""

from collections.abc import Sequence
from dataclasses import replace

from terrain.job.answer import Volumes
from terrain.job.sections import Section
from terrain.report.names import plain
from terrain.report.plan import plan_svg
from terrain.report.section import own_scale, section_scale, section_svg
from terrain.report.told import WIDE_PLAN


def statement_drawings(
    volumes: Volumes, sections: Sequence[Section], date: str
) -> tuple[tuple[str, str], ...]:
    """Title and SVG of the plan, then of the section through the wall that most comes out along.

    `date` stands on the plan in place of today, so that the same statement gives the same bytes.
    """
    dated = replace(volumes, date=date)
    drawn = [("Plan of the design", plan_svg(dated, WIDE_PLAN, "plan", tuple(sections)))]
    most = max(volumes.ledger.walls, key=lambda row: row.quantity.bank, default=None)
    unit = volumes.ledger.length_unit
    for section in sections:
        if most is not None and section.wall == most.wall:
            scale = own_scale(section, unit, section_scale(sections, unit))
            title = f"Section {section.number} of the design, {plain(section.wall)}: most earth"
            drawn.append((title, section_svg(section, unit, scale)))
    return tuple(drawn)
