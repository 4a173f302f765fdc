"""The page `lot.html`: one file that needs no network, what to haul off or bring in first."""

from markupsafe import Markup

from terrain.job.drainage import Drainage
from terrain.job.grade_answer import GradeAnswer
from terrain.job.lot_pictures import LotPictures
from terrain.job.lot_sections import LotSection
from terrain.ledger.lot_rows import LotRow
from terrain.report import figures
from terrain.report.doubt import lot_doubt_words
from terrain.report.grouping import Said, said_once
from terrain.report.lot_balance import balance_svg
from terrain.report.lot_curve import curve_svg
from terrain.report.lot_falls import falls_reasons, falls_rows, falls_told, falls_verdict
from terrain.report.lot_plan import lot_plan_svg
from terrain.report.lot_sections import lot_sections_key, shown_lot_sections
from terrain.report.lot_words import (
    balance_words,
    lot_facts,
    moved_words,
    pond_words,
    structure_facts,
    terms_facts,
    topsoil_words,
)
from terrain.report.names import plain
from terrain.report.scripts import NO_SCRIPTS
from terrain.report.told import (
    NARROW_PLAN,
    WIDE_PLAN,
    Words,
    caution_words,
    input_words,
    page_template,
)

WIDE_CURVE = 560.0
WATER = ("fall_from_house", "pond", "water_at_house")
"""Codes of cautions that are of water: the page has a place of their own for them."""


def lot_html(answer: GradeAnswer, pictures: LotPictures) -> str:
    """The whole page as text; every figure on it is an attribute of the answer, rounded."""
    made, unit = pictures.made, answer.length_unit
    drawn = {
        width: {
            "plan": Markup(lot_plan_svg(answer, pictures, width, f"lot-{name}")),
            "balance": Markup(balance_svg(answer, pictures.plan, width, f"balance-{name}")),
            "curve": _curve(answer, min(width, WIDE_CURVE)),
            "key": lot_sections_key(pictures.sections, width),
        }
        for name, width in (("wide", WIDE_PLAN), ("slim", NARROW_PLAN))
    }
    return page_template("lot.html").render(
        title=plain(answer.title),
        units=_units(answer),
        moved=moved_words(answer),
        doubts=lot_doubt_words(answer.doubts),
        balance=balance_words(answer),
        topsoil=topsoil_words(answer),
        verdict=falls_verdict(answer),
        ponds=pond_words(answer),
        falls_by_wall=falls_rows(answer),
        falls_told=falls_told(answer),
        falls_reasons=falls_reasons(answer),
        much=_sides(answer, "too much"),
        little=_sides(answer, "too little"),
        sides=[_side(row) for row in answer.walls],
        has_slab=any(row.slab_fill.compacted > 0 for row in answer.walls),
        wide=drawn[WIDE_PLAN],
        narrow=drawn[NARROW_PLAN],
        sections=shown_lot_sections(pictures.sections, unit),
        falls=_falls(pictures, unit),
        water=[caution_words(said) for said in _said(answer, is_water=True)],
        outlets=_outlets(answer.drainage, unit),
        cautions=[caution_words(said) for said in _said(answer, is_water=False)],
        lot=lot_facts(answer),
        structure=structure_facts(answer),
        terms=terms_facts(answer, pictures),
        inputs=[input_words(file, unit) for file in made.inputs],
        assumed=[plain(note) for note in answer.assumed],
        notes=[plain(note) for note in answer.notes if note not in answer.assumed],
        crs=None if made.crs is None else plain(made.crs),
        job_file=plain(made.job_file),
        version=made.version,
        date=made.date,
        policy=NO_SCRIPTS.policy,
    )


def _units(answer: GradeAnswer) -> Words:
    return {
        "length": figures.unit_sign(answer.length_unit),
        "length_words": figures.length_words(answer.length_unit),
        "area": figures.area_unit(answer.length_unit),
        "volume": figures.unit_sign(answer.volume_unit),
    }


def _curve(answer: GradeAnswer, width: float) -> Markup | None:
    drawn = curve_svg(answer, width)
    return None if drawn is None else Markup(drawn)


def _side(row: LotRow) -> Words:
    volume = figures.volume
    return {
        "name": plain(row.wall),
        "gives": volume(row.gives),
        "needs": volume(row.needs),
        "surplus": figures.signed(row.surplus),
        "cut": volume(row.cut),
        "backfill": volume(row.backfill.compacted),
        "grade_fill": volume(row.grade_fill.compacted),
        "slab_fill": volume(row.slab_fill.compacted),
        "stone": volume(row.stone),
    }


def _sides(answer: GradeAnswer, wanted: str) -> list[Words]:
    """The sides with too much or too little, most first; those that round to nought left out."""
    sign = 1.0 if wanted == "too much" else -1.0
    rows = sorted(answer.walls, key=lambda row: -sign * row.surplus)
    told = [row for row in rows if figures.signed(row.surplus)[0] == ("+" if sign > 0 else "−")]
    return [{"name": plain(row.wall), "surplus": figures.signed(row.surplus)} for row in told]


def _said(answer: GradeAnswer, is_water: bool) -> list[Said]:
    return said_once(c for c in answer.cautions if (c.code in WATER) == is_water)


def _outlets(drained: Drainage, unit: str) -> list[Words]:
    """Where water leaves the lot, the most of it first."""
    return [
        {
            "share": figures.percent(out.share),
            "spot": ", ".join(f"{value:.1f}" for value in out.spot),
            "width": figures.length(out.width, unit),
        }
        for out in drained.outlets
    ]


def _falls(pictures: LotPictures, unit: str) -> dict[int, str | None]:
    """By number of the section, how far the ground falls from the wall, and on to what."""
    sign = figures.unit_sign(unit)
    told: dict[int, str | None] = {}
    for own in pictures.sections:
        told[own.section.number] = None
        if own.fall is not None and own.reach is not None:
            way = "falls" if own.fall >= 0 else "rises"
            fall = figures.coordinate(abs(own.fall), unit)
            over = figures.length(own.reach, unit)
            told[own.section.number] = f"finished ground {way} {fall} {sign} in {over} {sign}" + (
                _onto(own)
            )
    return told


def _onto(own: LotSection) -> str:
    if not own.onto:
        return ""
    names = ", ".join(map(plain, own.onto))
    if own.is_cut_short:
        return f", where the ground of {names} begins"
    return f", on to pad {names}"
