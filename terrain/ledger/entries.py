"""The rows of the answer: valid if they exist, all volumes in the job's volume unit."""

from dataclasses import dataclass
from typing import Literal, NewType

from terrain.ledger.doubt import Doubt

BankVolume = NewType("BankVolume", float)
LooseVolume = NewType("LooseVolume", float)
CompactedVolume = NewType("CompactedVolume", float)


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """One body of earth in its three measures."""

    bank: BankVolume
    loose: LooseVolume
    compacted: CompactedVolume


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """A wall's bank volume by part; they sum to the row."""

    core: BankVolume
    overdig: BankVolume
    side: BankVolume
    footing: BankVolume


@dataclass(frozen=True, slots=True, kw_only=True)
class WallRow:
    """What comes out along one wall. `deepest` is the deepest cut below ground, in length units.

    `bank_plus_minus_95` is `doubt.together`; `part_doubts` are those of the parts, by name.
    """

    wall: str
    quantity: Quantity
    topsoil: BankVolume
    parts: Parts
    bank_plus_minus_95: float | None
    plan_area: float
    deepest: float
    doubt: Doubt | None = None
    part_doubts: dict[str, Doubt] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PitRow:
    """What a pit, ramp or trench adds to the dig so far."""

    name: str
    kind: Literal["pit", "ramp", "trench"]
    quantity: Quantity
    topsoil: BankVolume
    bank_plus_minus_95: float | None
    doubt: Doubt | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Total:
    """Walls plus pits. `loads` is rounded up, here only; None without a truck."""

    quantity: Quantity
    topsoil: BankVolume
    bank_plus_minus_95: float | None
    loads: int | None
    doubt: Doubt | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """Something to be careful of; `wall` is None where it concerns the whole dig.

    `message` says it whole. To say a rule once for many: `rule` is what all cautions of a code have
    in common, `of` who is meant ("east", "pit areaway"), `own` the words on that one alone, and
    `points` the rule's conditions; all empty where the message is not parted so.
    """

    code: str
    message: str
    wall: str | None = None
    of: str = ""
    own: str = ""
    rule: str = ""
    points: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Ledger:
    """The answer of the main job, as DESIGN's JSON keys tell it.

    `deepest_in` names the row that goes down to `deepest_cut`, None where nothing is dug.
    """

    title: str
    length_unit: str
    volume_unit: str
    total: Total
    walls: tuple[WallRow, ...]
    pits: tuple[PitRow, ...]
    daylight_area: float
    deepest_cut: float
    cautions: tuple[Caution, ...]
    deepest_in: str | None = None
