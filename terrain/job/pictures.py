"""What the page's pictures are drawn from: a section a wall, and the dig in space."""

from dataclasses import dataclass

from terrain.job.scene import Scene, scene_of
from terrain.job.sections import Section, sections_of
from terrain.job.volumes import Worked


@dataclass(frozen=True, slots=True, kw_only=True)
class Pictures:
    """Sections through each wall in the job's order, and the scene in space."""

    sections: tuple[Section, ...]
    scene: Scene


def pictures_of(worked: Worked) -> Pictures:
    """The sections and the scene of a job that is worked out, in its length unit."""
    return Pictures(sections=sections_of(worked), scene=scene_of(worked))
