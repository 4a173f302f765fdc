"""The lot's own figures in words: what is moved, where it balances, on what terms."""

from typing import TypeAlias

from terrain.job.grade_answer import GradeAnswer
from terrain.job.lot_pictures import LotPictures
from terrain.ledger.entries import Quantity
from terrain.report import figures
from terrain.report.names import plain
from terrain.report.told import Words

Facts: TypeAlias = list[tuple[str, str]]


def moved_words(answer: GradeAnswer) -> list[Words]:
    """What is hauled off, then what is brought in; empty where neither is."""
    lot = answer.lot
    ways: tuple[tuple[str, str, Quantity, int | None], ...] = (
        ("off", "Haul off", lot.hauled, lot.haul_loads),
        ("in", "Bring in", lot.imported, lot.import_loads),
    )
    return [
        {
            "way": way,
            "lead": lead,
            "bank": figures.volume(quantity.bank),
            "loose": figures.volume(quantity.loose),
            "loads": None if loads is None else figures.count(loads),
        }
        for way, lead, quantity, loads in ways
        if quantity.bank > 0
    ]


def balance_words(answer: GradeAnswer) -> Words:
    """The elevations that balance, each with the job's own, and what a step is worth."""
    balance, unit = answer.balance, answer.length_unit

    def elevation(found: float | None) -> str | None:
        return None if found is None else figures.coordinate(found, unit)

    loads, money = balance.loads_a_step, balance.money_a_step
    return {
        "wall_grade": elevation(balance.wall_grade),
        "wall_grade_reason": _reason(balance.wall_grade_reason),
        "asked_grade": figures.coordinate(balance.asked_grade, unit),
        "floor": elevation(balance.floor),
        "floor_reason": _reason(balance.floor_reason),
        "asked_floor": figures.coordinate(balance.asked_floor, unit),
        "step": f"{balance.step:g}",
        "loads_a_step": None if loads is None else figures.volume(loads),
        "money_a_step": None if money is None else money_words(answer, money),
    }


def money_words(answer: GradeAnswer, money: float) -> str:
    """A sum in the currency of the job's billing, where it has one."""
    return figures.money(money, None if answer.currency is None else plain(answer.currency))


def topsoil_words(answer: GradeAnswer) -> Words | None:
    """What stripping leaves of topsoil or lacks, and its loads; None where no topsoil moves."""
    lot = answer.lot
    if not lot.topsoil_strip and not lot.topsoil_respread:
        return None
    is_left = lot.topsoil_lacking.bank <= 0
    own = lot.topsoil_left if is_left else lot.topsoil_lacking
    loads = None if lot.topsoil_loads is None else figures.counted(lot.topsoil_loads, "load")
    return {
        "way": "left over" if is_left else "lacking",
        "if_moved": "if it leaves" if is_left else "to bring in",
        "bank": figures.volume(own.bank),
        "loads": loads if own.bank > 0 else None,
    }


def _reason(reason: str | None) -> str | None:
    return None if reason is None else plain(reason)


def lot_facts(answer: GradeAnswer) -> Facts:
    """The lot as a whole, in its volume unit."""
    lot, unit = answer.lot, figures.unit_sign(answer.volume_unit)

    def told(value: float, state: str) -> str:
        return f"{figures.volume(value)} {unit} {state}"

    return [
        ("Cut to finished grade", told(lot.cut, "bank, before topsoil")),
        ("Filled to finished grade", told(lot.fill, "compacted, before topsoil")),
        ("Topsoil stripped", told(lot.topsoil_strip, "bank")),
        ("Topsoil put back", told(lot.topsoil_respread, "in place")),
        *_topsoil_facts(answer),
        ("Fill under slabs", told(lot.slab_fill, "compacted")),
        ("Unfit for fill", told(lot.unsuitable, "bank, part of what is hauled off")),
    ]


def pond_words(answer: GradeAnswer) -> str | None:
    """How many ponds there are and how many of them the grading makes; None where none is."""
    drained = answer.drainage
    if not drained.ponds:
        return None
    stands = figures.counted(len(drained.ponds), "place")
    new = sum(drained.is_new(pond) for pond in drained.ponds)
    if new == len(drained.ponds):
        return f"Water will stand in {stands} where none stands today: this grading makes it."
    if new:
        return f"Water will stand in {stands}, {new} of them new: made by this grading."
    return f"Water will stand in {stands}, as it does today: this grading makes no new one."


def _topsoil_facts(answer: GradeAnswer) -> Facts:
    words = topsoil_words(answer)
    if words is None:
        return []
    unit = figures.unit_sign(answer.volume_unit)
    loads = "" if words["loads"] is None else f", {words['loads']} {words['if_moved']}"
    return [(f"Topsoil {words['way']}", f"{words['bank']} {unit} bank{loads}")]


def structure_facts(answer: GradeAnswer) -> Facts:
    """What the foundation puts into the ground."""
    own, unit = answer.structure, figures.unit_sign(answer.volume_unit)
    parts = (
        ("Footing", own.footing),
        ("Wall", own.wall),
        ("Stone outside the walls", own.stone),
        ("Stone under the slab", own.slab_base),
    )
    return [(name, f"{figures.volume(value)} {unit}") for name, value in parts]


def terms_facts(answer: GradeAnswer, pictures: LotPictures) -> Facts:
    """How the lot was graded, as the job says or as was taken where it is silent."""
    apron, terms, soil = pictures.plan.design.apron, pictures.terms, pictures.made.soil
    unit = figures.unit_sign(answer.length_unit)

    def depth(value: float) -> str:
        return f"{value:g} {unit}"

    truck = "none named"
    if terms.truck is not None:
        truck = f"{terms.truck:g} {figures.unit_sign(answer.volume_unit)} loose"
    return [
        ("Fall from the house", f"{apron.fall:g} per 1 over {depth(apron.fall_distance)}"),
        ("Slopes beyond", f"cut {apron.cut_slope:g}:1, fill {apron.fill_slope:g}:1, run to rise"),
        ("Backfill settles", f"{pictures.settlement:g} of its depth"),
        ("Topsoil", f"strip {depth(terms.topsoil_strip)}, put back "
         f"{depth(terms.topsoil_respread)}"),
        ("Under slabs off the pit", f"{depth(terms.slab_fill)} of fill"),
        ("Unfit for fill", f"{terms.unsuitable:g} of what is dug"),
        ("Soil", plain(soil.material)),
        ("Swell", f"{soil.swell:g} (loose is bank times 1 plus swell)"),
        ("Shrink", f"{soil.shrink:g} (compacted is bank times 1 less shrink)"),
        ("Source", plain(soil.source)),
        ("Truck", truck),
    ]  # fmt: skip
