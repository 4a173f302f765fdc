"""What a bank measure of soil becomes when it is dug loose and when it is compacted.

Swell and shrink only are stored; everything else is derived from them:
loose = bank (1 + swell), compacted = bank (1 - shrink).
"""

import math
from dataclasses import dataclass
from difflib import get_close_matches

from terrain.base.errors import Fault, JobError
from terrain.ledger.entries import BankVolume, Caution, CompactedVolume, LooseVolume, Quantity
from terrain.ledger.sources import Source

_CONVERSION_TABLE = "NAVEDTRA 14070 (Engineering Aid), Table 10-1, Soil Conversion Factors"
_RANGES = Source(
    title="Dagostino & Peterson, Estimating in Building Construction, Fig. 9.1", mark="S2"
)

MOST_SWELL = 2.0
"""A swell above this is taken for a percentage. Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Soil:
    """A row of the soil table: swell and shrink, and the range in which others print them.

    `swell_range` and `shrink_range` are (least, most) of `range_source` for the soil named in
    `range_name`.
    """

    name: str
    swell: float
    shrink: float
    source: Source
    range_name: str
    swell_range: tuple[float, float]
    shrink_range: tuple[float, float]
    range_source: Source = _RANGES


SOILS = (
    Soil(
        name="sand", swell=0.11, shrink=0.05, source=Source(title=_CONVERSION_TABLE, mark="S2"),
        range_name="sand and gravel", swell_range=(0.10, 0.18), shrink_range=(0.0, 0.15),
    ),
    Soil(
        name="common earth", swell=0.25, shrink=0.10,
        source=Source(title=_CONVERSION_TABLE, mark="M"),
        range_name="loam", swell_range=(0.15, 0.25), shrink_range=(0.0, 0.10),
    ),
    Soil(
        name="clay", swell=0.43, shrink=0.10, source=Source(title=_CONVERSION_TABLE, mark="M"),
        range_name="dense clay", swell_range=(0.20, 0.35), shrink_range=(0.0, 0.10),
    ),
    Soil(
        name="blasted rock", swell=0.50, shrink=-0.30,
        source=Source(title=_CONVERSION_TABLE, mark="M"),
        range_name="solid rock", swell_range=(0.40, 0.70), shrink_range=(-0.30, -0.30),
    ),
)  # fmt: skip

_BY_NAME = {soil.name: soil for soil in SOILS}
_ALIASES = {"loam": "common earth", "earth": "common earth", "rock": "blasted rock"}


@dataclass(frozen=True, slots=True, kw_only=True)
class SoilFactors:
    """Swell and shrink as used for a job, as fractions of the bank volume.

    `source` says in words where each came from, for the report. `shrink` is negative for rock.
    `swell_plus_minus_95` is the doubt of a swell that was measured on the lot, None otherwise.
    """

    material: str
    swell: float
    shrink: float
    source: str
    swell_plus_minus_95: float | None = None


def find_soil(material: str) -> Soil | None:
    """The row of the soil table with this name, however it is spaced or capitalised."""
    name = " ".join(material.casefold().split())
    return _BY_NAME.get(_ALIASES.get(name, name))


def soil_factors(
    material: str, swell: float | None = None, shrink: float | None = None
) -> SoilFactors:
    """Swell and shrink of a material: from the table, unless the job gives either or both.

    Raises JobError, with every fault and its key path, if the material is not in the table and
    one of the two is missing, or if a figure can't be.

    >>> soil_factors("clay", swell=0.30)
    SoilFactors(material='clay', swell=0.3, shrink=0.1, source='swell given by the job; shrink: \
typical figure', swell_plus_minus_95=None)
    """
    soil = find_soil(material)
    used_swell = soil.swell if swell is None and soil is not None else swell
    used_shrink = soil.shrink if shrink is None and soil is not None else shrink
    faults = [*_swell_faults(swell), *_shrink_faults(shrink)]
    if used_swell is None or used_shrink is None:
        unknown = Fault(key="soil.material", message=_unknown(material, swell, shrink))
        raise JobError(unknown, *faults)
    if faults:
        raise JobError(*faults)
    if -used_shrink > used_swell:
        raise JobError(
            Fault(
                key="soil.shrink" if shrink is not None else "soil.swell",
                message=f"compacted, the soil would fill {1 - used_shrink:g} of its bank volume, "
                f"more than the {1 + used_swell:g} it fills loose; swell must be at least "
                f"{-used_shrink:g} with shrink = {used_shrink:g}",
            )
        )
    return SoilFactors(
        material=material,
        swell=used_swell,
        shrink=used_shrink,
        source=_source_words(soil, swell, shrink),
    )


def quantity(bank: BankVolume, factors: SoilFactors) -> Quantity:
    """A bank volume in its three measures, all in the unit of `bank`.

    >>> sand = soil_factors("sand")
    >>> told = quantity(BankVolume(100.0), sand)
    >>> round(told.loose, 9), round(told.compacted, 9)
    (111.0, 95.0)
    """
    return Quantity(
        bank=bank,
        loose=LooseVolume(bank * (1.0 + factors.swell)),
        compacted=CompactedVolume(bank * (1.0 - factors.shrink)),
    )


def bank_from_loose(loose: LooseVolume, factors: SoilFactors) -> BankVolume:
    """The bank volume that was dug to make a loose one, in the same unit."""
    return BankVolume(loose / (1.0 + factors.swell))


def bank_from_compacted(compacted: CompactedVolume, factors: SoilFactors) -> BankVolume:
    """The bank volume that must be dug to make a compacted one, in the same unit.

    >>> sand = soil_factors("sand")  # 500 compacted at 0.95 of the bank measure
    >>> round(bank_from_compacted(CompactedVolume(500.0), sand), 2)
    526.32
    """
    return BankVolume(compacted / (1.0 - factors.shrink))


@dataclass(frozen=True, slots=True, kw_only=True)
class SwellSpan:
    """Between what a job's swell may lie, its own figure within; `of` says who tells that."""

    least: float
    most: float
    of: str


def swell_span(factors: SoilFactors) -> SwellSpan | None:
    """The range of a job's swell: its own doubt where it was measured on the lot, else what is
    printed of its soil; None for a soil that is in no table.

    >>> span = swell_span(soil_factors("clay"))
    >>> span.least, span.most
    (0.2, 0.43)
    """
    used, doubt = factors.swell, factors.swell_plus_minus_95
    if doubt is not None:
        return SwellSpan(least=used - doubt, most=used + doubt, of="as measured on this lot")
    soil = find_soil(factors.material)
    if soil is None:
        return None
    least, most = soil.swell_range
    of = f"as printed for {soil.range_name}, {soil.range_source.title}"
    return SwellSpan(least=min(least, used), most=max(most, used), of=of)


def soil_cautions(factors: SoilFactors) -> tuple[Caution, ...]:
    """A caution for each of swell and shrink that no published figure comes near.

    Published is what lies between the least and the most of the table's own figure and the range
    of Fig. 9.1 for that soil; for a material that is not in the table, of all soils together.
    """
    soil = find_soil(factors.material)
    rows = SOILS if soil is None else (soil,)
    name = "any soil in the tables" if soil is None else soil.range_name
    told = []
    for word, used, printed, hint in (
        ("swell", factors.swell, [s for r in rows for s in (r.swell, *r.swell_range)],
         "0.25 means that 100 in the bank fill 125 in the truck"),
        ("shrink", factors.shrink, [s for r in rows for s in (r.shrink, *r.shrink_range)],
         "0.05 means that 100 in the bank make 95 compacted; it is not the factor 0.95"),
    ):  # fmt: skip
        least, most = min(printed), max(printed)
        if least <= used <= most:
            continue
        span = f"{least:g}" if least == most else f"{least:g} to {most:g}"
        told.append(
            Caution(
                code=f"soil-{word}-unusual",
                message=f"{word} {used:g} for {factors.material} is outside the published figures "
                f"for {name}, {span}; check that it is a fraction of the bank volume ({hint})",
            )
        )
    return tuple(told)


def _unknown(material: str, swell: float | None, shrink: float | None) -> str:
    known = [*_BY_NAME, *_ALIASES]
    near = get_close_matches(material.casefold(), known, n=1, cutoff=0.5)
    meant = f'; the nearest name is "{near[0]}"' if near else ""
    missing = " and ".join(w for w, v in (("swell", swell), ("shrink", shrink)) if v is None)
    names = ", ".join(f'"{n}"' for n in _BY_NAME)
    return (
        f'"{material}" is not in the soil table ({names}){meant}; choose one of these, or give '
        f"{missing} as well"
    )


def _swell_faults(swell: float | None) -> list[Fault]:
    if swell is None or (math.isfinite(swell) and 0.0 <= swell <= MOST_SWELL):
        return []
    percent = f"; for {swell:g} % write {swell / 100:g}" if swell > MOST_SWELL else ""
    return [
        Fault(
            key="soil.swell",
            message=f"swell is a fraction of the bank volume from 0 to {MOST_SWELL:g}, for "
            f"instance 0.25, not {swell:g}{percent}",
        )
    ]


def _shrink_faults(shrink: float | None) -> list[Fault]:
    if shrink is None or (math.isfinite(shrink) and shrink < 1.0):
        return []
    percent = f"; for {shrink:g} % write {shrink / 100:g}" if shrink >= 1.0 else ""
    return [
        Fault(
            key="soil.shrink",
            message="shrink is the fraction of the bank volume that is lost when it is compacted, "
            f"less than 1, for instance 0.10 (negative for rock), not {shrink:g}{percent}",
        )
    ]


def _source_words(soil: Soil | None, swell: float | None, shrink: float | None) -> str:
    if swell is None and shrink is None:
        return str(soil.source) if soil else ""
    if swell is not None and shrink is not None:
        return "swell and shrink given by the job"
    given, taken = ("swell", "shrink") if swell is not None else ("shrink", "swell")
    return f"{given} given by the job; {taken}: {soil.source if soil else ''}"
