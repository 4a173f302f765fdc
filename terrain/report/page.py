"""The page `report.html`: one file that needs no network, the answer first."""

from markupsafe import Markup

from terrain.job.answer import DigCorner, Volumes
from terrain.job.pictures import Pictures
from terrain.job.scene import Scene
from terrain.ledger.entries import Ledger, PitRow, Quantity, WallRow
from terrain.ledger.soil import SoilFactors
from terrain.report import figures
from terrain.report.answer_words import (
    MOST_WARNINGS,
    deepest_words,
    doubt_from,
    leaving,
    range_words,
    warning_words,
)
from terrain.report.doubt import doubt_words
from terrain.report.grouping import said_once
from terrain.report.names import plain
from terrain.report.palette import row_colours
from terrain.report.plan import plan_svg
from terrain.report.scripts import NO_SCRIPTS, viewer_scripts
from terrain.report.sections import sections_key, shown_sections
from terrain.report.space import as_script_data, row_words, space_data
from terrain.report.still import still_svg
from terrain.report.svg import element
from terrain.report.told import (
    NARROW_PLAN,
    WIDE_PLAN,
    Words,
    caution_words,
    input_words,
    page_template,
)


def report_html(volumes: Volumes, pictures: Pictures | None = None) -> str:
    """The whole page as text; every figure on it is an attribute of the answer, rounded.

    Without pictures it has no sections and nothing in space.
    """
    ledger = volumes.ledger
    sections = () if pictures is None else pictures.sections
    told_beside = volumes.warnings[:MOST_WARNINGS]
    scripts = NO_SCRIPTS if pictures is None else viewer_scripts()
    return page_template("volumes.html").render(
        title=plain(ledger.title),
        units=_units(ledger),
        answer=_answer(volumes),
        leaving=leaving(volumes) if ledger.total.loads else None,
        warnings=warning_words(volumes.warnings),
        has_footing=any(row.parts.footing > 0 for row in ledger.walls),
        walls=[_wall(row, ledger) for row in ledger.walls],
        pits=[_pit(row) for row in ledger.pits],
        doubt=doubt_words(ledger.total.doubt, volumes.doubt, ledger.length_unit),
        has_doubt=ledger.total.bank_plus_minus_95 is not None,
        total=_measures(ledger.total.quantity)
        | _rest(ledger.total.topsoil, ledger.total.bank_plus_minus_95),
        wide_plan=Markup(plan_svg(volumes, WIDE_PLAN, "wide", sections)),
        narrow_plan=Markup(plan_svg(volumes, NARROW_PLAN, "slim", sections)),
        sections=shown_sections(sections, ledger.length_unit),
        keys=[sections_key(sections, width) for width in (WIDE_PLAN, NARROW_PLAN)],
        space=None if pictures is None else _space(volumes, pictures.scene),
        policy=scripts.policy,
        scripts=[Markup(text) for text in scripts.texts],
        soil=_soil(volumes.soil),
        assumed=[(title, plain(words)) for title, words in volumes.assumed],
        corners=[_corner(corner, ledger.length_unit) for corner in volumes.dig_corners],
        cautions=[caution_words(said) for said in said_once(ledger.cautions)],
        inputs=[input_words(file, ledger.length_unit) for file in volumes.inputs],
        notes=[plain(note) for note in volumes.notes if note not in told_beside],
        crs=None if volumes.crs is None else plain(volumes.crs),
        job_file=plain(volumes.job_file),
        version=volumes.version,
        date=volumes.date,
    )


def _units(ledger: Ledger) -> Words:
    return {
        "length": figures.unit_sign(ledger.length_unit),
        "length_words": figures.length_words(ledger.length_unit),
        "area": figures.area_unit(ledger.length_unit),
        "volume": figures.unit_sign(ledger.volume_unit),
    }


def _answer(volumes: Volumes) -> Words:
    ledger, total = volumes.ledger, volumes.ledger.total
    most = max(ledger.walls, key=lambda row: row.quantity.bank, default=None)
    if most is not None and not figures.volume(most.quantity.bank).strip("0."):
        most = None  # nothing is dug: no wall gives most of it
    return _measures(total.quantity) | {
        "doubt": None
        if total.bank_plus_minus_95 is None
        else figures.plus_minus(total.bank_plus_minus_95),
        "doubt_from": None if total.doubt is None else doubt_from(total.doubt),
        "range": range_words(volumes),
        "loads": None if total.loads is None else figures.count(total.loads),
        "loads_words": "Truck load" if total.loads == 1 else "Truck loads",
        "truck": None if volumes.truck is None else f"{volumes.truck:g}",
        "topsoil": figures.volume(total.topsoil) if total.topsoil > 0 else None,
        "most_wall": None if most is None else plain(most.wall),
        "most_bank": None if most is None else figures.volume(most.quantity.bank),
        "deepest": figures.length(ledger.deepest_cut, ledger.length_unit),
        "deepest_at": deepest_words(volumes),
        "daylight_area": figures.volume(ledger.daylight_area),
    }


def _measures(quantity: Quantity) -> Words:
    return {
        "bank": figures.volume(quantity.bank),
        "loose": figures.volume(quantity.loose),
        "compacted": figures.volume(quantity.compacted),
    }


def _rest(topsoil: float, doubt: float | None) -> Words:
    return {"topsoil": figures.volume(topsoil), "doubt": figures.plus_minus(doubt)}


def _wall(row: WallRow, ledger: Ledger) -> Words:
    parts = row.parts
    return (
        {"name": plain(row.wall)}
        | _measures(row.quantity)
        | _rest(row.topsoil, row.bank_plus_minus_95)
        | {
            "core": figures.volume(parts.core),
            "overdig": figures.volume(parts.overdig),
            "side": figures.volume(parts.side),
            "footing": figures.volume(parts.footing),
            "deepest": figures.length(row.deepest, ledger.length_unit),
            "bar": _bar(row, max(each.quantity.bank for each in ledger.walls)),
        }
    )


def _bar(row: WallRow, longest: float) -> Markup:
    """A bar as long against the others as the wall's bank volume against theirs."""
    share = 100 * row.quantity.bank / longest if longest > 0 else 0.0
    bar = element("rect", width=f"{share:.1f}%", height="100%", rx=1.0)
    return Markup(element("svg", bar, class_="bar", aria_hidden="true"))


def _pit(row: PitRow) -> Words:
    return (
        {"name": plain(row.name), "kind": row.kind}
        | _measures(row.quantity)
        | _rest(row.topsoil, row.bank_plus_minus_95)
    )


def _space(volumes: Volumes, scene: Scene) -> dict[str, object]:
    """The dig in space: still pictures, what the viewer draws, and how much of the ground."""
    colours = row_colours([body.kind for body in scene.bodies])
    data = space_data(volumes, scene)
    thinned = None
    if scene.shown < scene.of:
        thinned = {"shown": figures.count(scene.shown), "of": figures.count(scene.of)}
    return {
        "wide": Markup(still_svg(volumes, scene, WIDE_PLAN)),
        "narrow": Markup(still_svg(volumes, scene, NARROW_PLAN)),
        "data": Markup(as_script_data(data)),
        "rows": [
            {"name": _whole(tag, body.name), "bank": bank, "swatch": _swatch(colour)}
            for body, (tag, bank), colour in zip(
                scene.bodies, row_words(volumes, scene), colours, strict=True
            )
        ],
        "thinned": thinned,
    }


def _whole(tag: str, name: str) -> str:
    """A name in full, with the number that the pictures tell it by, if they do."""
    whole, (number, parted, _) = plain(name), tag.partition(": ")
    return f"{number}: {whole}" if parted and number.isdigit() and tag != whole else whole


def _swatch(colour: str) -> Markup:
    box = element("rect", width=14.0, height=14.0, fill=colour)
    return Markup(element("svg", box, class_="swatch", viewBox="0 0 14 14", aria_hidden="true"))


def _soil(soil: SoilFactors) -> Words:
    return {
        "material": plain(soil.material),
        "swell": f"{soil.swell:g}",
        "shrink": f"{soil.shrink:g}",
        "source": plain(soil.source),
    }


def _corner(corner: DigCorner, length_unit: str) -> Words:
    return {
        "name": " / ".join(map(plain, corner.walls)),
        "easting": figures.coordinate(corner.easting, length_unit),
        "northing": figures.coordinate(corner.northing, length_unit),
    }
