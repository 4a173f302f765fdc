"""Piles, stock and the swell of a lot in words, for the page and the terminal."""

from terrain.job.piles_record import PileRow, PilesSurvey, SideStock, SoilMeasured, StockInAll
from terrain.ledger.entries import LooseVolume
from terrain.report import figures
from terrain.report.grouping import said_once
from terrain.report.names import plain
from terrain.report.told import Words, caution_words


def piles_words(survey: PilesSurvey, length_unit: str, volume_unit: str) -> dict[str, object]:
    """What the page says of the piles of one day."""
    return {
        "date": survey.date,
        "piles": [pile_words(pile, length_unit) for pile in survey.piles],
        "total": _doubtful(survey.total, survey.total_plus_minus_95),
        "sides": [side_words(side) for side in survey.sides],
        "in_all": in_all_words(survey.in_all, volume_unit),
        "has_needs": any(side.needs is not None for side in survey.sides),
        "soil": [
            soil_words(soil, volume_unit)
            for soil in (survey.soil, survey.topsoil_soil)
            if soil is not None
        ],
        "cautions": [caution_words(said) for said in said_once(survey.cautions)],
    }


def pile_words(pile: PileRow, length_unit: str) -> Words:
    """One pile."""
    return {
        "name": plain(pile.name),
        "side": plain(pile.side),
        "kind": "topsoil" if pile.is_topsoil else None,
        "loose": _doubtful(pile.loose, pile.plus_minus_95),
        "height": figures.length(pile.height, length_unit),
        "area": figures.volume(pile.area),
    }


def side_words(side: SideStock) -> Words:
    """What lies ready on one side against what it needs."""
    return {
        "name": plain(side.wall),
        "stock": figures.volume(side.stock),
        "to_come": _or_dash(side.to_come),
        "needs": _or_dash(side.needs),
        "spare": "–" if side.spare is None else figures.signed(side.spare),
    }


def in_all_words(whole: StockInAll, volume_unit: str) -> Words:
    """All sides together, and in a sentence what is to come in or may leave; None without needs."""
    extras = whole.from_extras
    return {
        "stock": _doubtful(whole.stock, whole.stock_plus_minus_95),
        "extras": figures.volume(extras) if extras else None,
        "extras_spare": figures.signed(extras) if extras else None,
        "to_come": _or_dash(whole.to_come),
        "needs": _or_dash(whole.needs),
        "spare": "–" if whole.spare is None else figures.signed(whole.spare),
        "said": stock_said(whole, volume_unit),
    }


def stock_said(whole: StockInAll, volume_unit: str) -> str | None:
    """What is lacking or left over on the whole lot, in loads where the job names a truck."""
    if whole.spare is None:
        return None
    unit = figures.unit_sign(volume_unit)
    amount = f"{figures.volume(abs(whole.spare))} {unit} loose"
    loads = None
    if whole.loads is not None and whole.truck is not None:
        loads = f"{figures.counted(whole.loads, 'load')} of {whole.truck:g} {unit}"
    gone = f"; {figures.volume(whole.hauled)} {unit} were hauled away" if whole.hauled > 0 else ""
    if whole.spare < 0.0:
        bring = "" if loads is None else f", about {loads} to bring in"
        return f"{amount} short of what backfill and grade fill need{bring}{gone}."
    leave = "" if loads is None else f", about {loads} that may leave"
    return f"{amount} more than backfill and grade fill need{leave}{gone}."


def _or_dash(volume: LooseVolume | None) -> str:
    return "–" if volume is None else figures.volume(volume)


def _doubtful(volume: float, plus_minus: float | None) -> str:
    text = figures.volume(volume)
    return text if plus_minus is None else f"{text} ± {figures.plus_minus(plus_minus)}"


def soil_words(soil: SoilMeasured, volume_unit: str) -> Words:
    """The measured swell: what it is, what of, against what is published, whether it is used."""
    unit = figures.unit_sign(volume_unit)
    since = "the beginning" if soil.since is None else soil.since
    doubt = "" if soil.plus_minus_95 is None else f" ± {soil.plus_minus_95:.3f}"
    hauled = f", {figures.volume(soil.hauled)} of it hauled away" if soil.hauled > 0 else ""
    published = soil.published
    if soil.is_topsoil:
        use = "Other volumes go by the swell of the soil, not by this one."
    elif soil.reason is not None:
        use = f"It is not used: {plain(soil.reason)}."
    elif soil.is_used:
        use = "Loose volumes, loads and prices of this job are made with it."
    else:
        use = "To have loose volumes, loads and prices made with it, write soil.measured = true."
    return {
        "what": "topsoil" if soil.is_topsoil else "soil",
        "swell": f"{soil.swell:.3f}{doubt}",
        "made_of": f"{_doubtful(soil.loose, soil.loose_plus_minus_95)} {unit} loose{hauled} over "
        f"{_doubtful(soil.bank, soil.bank_plus_minus_95)} {unit} bank, dug from {since} to "
        f"{soil.until}",
        "against": f"The job goes by {soil.table_swell:g} without it; published for "
        f"{published.name}: {published.least:g} to {published.most:g} ({published.source})",
        "use": use,
    }
