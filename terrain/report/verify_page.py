"""The page `verify.html`: is the hole ready, what to do in order, where; no network."""

from markupsafe import Markup

from terrain.job.verified import AllVerified
from terrain.job.verify_record import Verified
from terrain.report import figures
from terrain.report.grouping import said_once
from terrain.report.later_words import later_words
from terrain.report.names import plain
from terrain.report.scripts import NO_SCRIPTS
from terrain.report.stages_words import stages
from terrain.report.told import (
    NARROW_PLAN,
    WIDE_PLAN,
    caution_words,
    input_words,
    page_template,
)
from terrain.report.verify_plan import HoleSheet, verify_svg
from terrain.report.verify_words import (
    BIG,
    NO_PRICES,
    SAID,
    corner_words,
    diagonal_words,
    floor_words,
    todo_words,
    told,
    unsure,
    wall_words,
)


def verify_html(told: AllVerified) -> str:
    """The whole page as text; every figure on it is an attribute of the answer, rounded."""
    job, made, later = told.worked.job, told.made, told.later
    unit, volume = job.unit.name, job.unit.volume_name
    inputs = [*made.inputs, *told.inputs]
    return page_template("verify.html").render(
        title=plain(job.title),
        units={
            "length": figures.unit_sign(unit),
            "length_words": figures.length_words(unit),
            "area": figures.area_unit(unit),
            "volume": figures.unit_sign(volume),
        },
        stages=stages(told),
        hole=None if told.hole is None else _hole(told.hole),
        cautions=[caution_words(said) for said in said_once(later.cautions)],
        inputs=[input_words(file, unit) for file in inputs],
        notes=[plain(note) for note in later.notes],
        crs=None if made.crs is None else plain(made.crs),
        job_file=plain(made.job_file),
        version=made.version,
        date=made.date,
        policy=NO_SCRIPTS.policy,
        **later_words(later, job.title, unit, volume),
    )


def _hole(found: Verified) -> dict[str, object]:
    return {
        "date": found.date,
        "verdict": found.verdict,
        "big": BIG[found.verdict],
        "said": SAID[found.verdict].capitalize(),
        "todo": todo_words(found),
        "floor": None if found.floor is None else floor_words(found.floor, found),
        "walls": [wall_words(wall, found) for wall in found.walls],
        "corners": corner_words(found),
        "diagonals": diagonal_words(found),
        "undercut": None if found.undercut is None else told(found.undercut),
        "undercut_unsure": None if found.undercut is None else unsure(found.undercut),
        "no_prices": NO_PRICES,
        "currency": None if found.currency is None else plain(found.currency),
        "floor_tolerance": f"{found.floor_tolerance:g}",
        "line_tolerance": f"{found.line_tolerance:g}",
        "wide": Markup(verify_svg(HoleSheet(found=found, width=WIDE_PLAN, name="hole-wide"))),
        "narrow": Markup(verify_svg(HoleSheet(found=found, width=NARROW_PLAN, name="hole-slim"))),
        "notes": [plain(note) for note in found.notes],
        "cautions": [plain(line) for line in found.cautions],
    }
