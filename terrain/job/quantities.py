"""What the items of a job's billing come to: from the design, or from the hole as dug on a day.

Every quantity is an exact overlay. "Neat" pays the design to the pay line, as far as it is dug;
"as dug to line" pays what is dug, no farther out than the pay line and its allowance and no deeper
than the floor; "as dug" pays all that is dug.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from terrain.asdug.beside import dug_beside
from terrain.asdug.measured import Measured, SurveyTerms, doubt_from, total
from terrain.asdug.progress import Sheet, Standing, above_dig, standing
from terrain.base.errors import Fault, JobError, SpoilbankError
from terrain.billing.haulage import Haulage, haulage
from terrain.job.asdug import surveyed_hole
from terrain.job.billing_tables import Billing, Item
from terrain.job.graded import Graded, grade_out
from terrain.job.progress import DayDug, upright_faces, with_faces
from terrain.job.progress_days import days_of, key_of, surveyed_day
from terrain.job.worked import Worked
from terrain.ledger.doubt import significant
from terrain.ledger.entries import Quantity
from terrain.ledger.lot_rows import lot_rows
from terrain.ledger.soil import SoilFactors
from terrain.pit.design import Design, Wall
from terrain.pit.dig import PARTS, SIDE, Dig, dig_of, part_of, row_of
from terrain.surface.minimum import sound_parts
from terrain.surface.overlay import overlay, overlay_faces
from terrain.surface.patches import Surface, join_faces
from terrain.surface.tin import build_tin, tin_surface
from terrain.survey.files import read_bytes
from terrain.survey.read import ReadOptions, read_shots
from terrain.survey.tickets import read_tickets, up_to

OF_LOT = ("backfill", "stone", "haul", "import")
OF_EARTH = ("pit", "topsoil", "rock", "undercut")


@dataclass(frozen=True, slots=True, kw_only=True)
class Amount:
    """An item's quantity in its own measure, in the job's volume unit, with its doubt at 95 %."""

    value: float
    plus_minus_95: float | None


@dataclass(frozen=True, kw_only=True)
class Quantities:
    """What can be asked of a job's items: by the design (no `day`), or as dug on a day.

    Tickets count up to the day `until`; without one loads are what the design makes.
    """

    worked: Worked
    day: str | None = None
    until: str | None = None

    @property
    def billing(self) -> Billing:
        """The table, which the job is known to have."""
        assert self.worked.job.billing is not None
        return self.worked.job.billing

    def of(self, item: Item) -> Amount:
        """What one item comes to.

        Raises:
            JobError: at the item, where there is no such thing in the job.
            SpoilbankError: a survey or ticket can't be used.
        """
        if item.basis == "loads":
            return self._by_loads(item)
        if item.of in OF_LOT:
            return self._of_lot(item)
        bank = self._bank(item)
        factor = factor_of(item.measure, self.worked.soil)
        doubt = with_faces(doubt_from(bank, self._surveys), self._upright(item, bank)).together
        volume = self.worked.job.unit.volume
        return Amount(
            value=volume(bank.amount) * factor,
            plus_minus_95=None if doubt is None else volume(doubt) * factor,
        )

    def _bank(self, item: Item) -> Measured:
        if item.of == "topsoil":
            strip = float(self.worked.figures.topsoil.sum())
            return Measured(amount=strip, weights={})
        if item.of == "rock":
            return self._rock()
        if item.of == "undercut":
            return self._undercut(item.depth or 0.0)
        # an allowance is for what was dug; a design is priced as it is drawn
        asked = self.day is not None and item.basis == "as dug to line"
        pay = self._pay(item.allowance if asked else 0.0)
        labels = self._labels(item, pay)
        if self.day is None:
            return total([pay.design[k] for k in labels if k in pay.design])
        now = pay.standing
        design = total([now.design[k] for k in labels if k in now.design])
        left = total([now.left[k] for k in labels if k in now.left])
        if item.basis == "neat":
            known = with_faces(doubt_from(left, self._surveys), self._upright(item, left))
            return design if significant(left.amount, known) is False else design - left
        if item.basis == "as dug to line":
            return design - left
        beyond = [now.beyond[k] for k in labels if k in now.beyond]
        return total([design - left, *beyond, *self._beside(item, pay)])

    def _upright(self, item: Item, bank: Measured) -> float:
        """What errors in plan of upright faces add to a doubt, where the day's shots are in it."""
        if self.day is None or item.of == "undercut" or key_of(self.day) not in bank.weights:
            return 0.0
        return upright_faces(self._hole[0], self._labels(item, self._pay(0.0)))

    def _beside(self, item: Item, pay: "_Pay") -> list[Measured]:
        """What was dug where the design says nothing: under upright sides."""
        if item.of == "pit":
            return [pay.standing.elsewhere]
        names = [wall.name for wall in self.worked.layout.design.walls]
        if item.of not in names:
            return []
        beside = dug_beside(self._before, self._now, pay.dig, len(names))
        return [beside[names.index(item.of)]] if names.index(item.of) in beside else []

    def _labels(self, item: Item, pay: "_Pay") -> list[int]:
        design = self.worked.layout.design
        names = [wall.name for wall in design.walls] + [extra.name for extra in design.extras]
        if item.of in OF_EARTH:
            return sorted(pay.design)
        if item.of not in names:
            known = ", ".join((*OF_EARTH, *OF_LOT, *names))
            raise self._fault(item, f'there is no "{item.of}" to bill; there are {known}')
        row = names.index(item.of)
        return list(range(row * len(PARTS), (row + 1) * len(PARTS)))

    def _fault(self, item: Item, message: str) -> SpoilbankError:
        index = self.billing.items.index(item) + 1
        fault = Fault(key=f"billing.items[{index}].of", message=message)
        return self.worked.job.located(JobError(fault))

    @cached_property
    def _before(self) -> Sheet:
        return days_of(self.worked, ()).before

    @cached_property
    def _hole(self) -> tuple[DayDug, Mapping[str, SurveyTerms]]:
        days = [survey.date for survey in self.worked.job.asdug]
        if self.day not in days:
            known = ", ".join(days) or "none"
            message = f"there is no [[asdug]] survey of {self.day}; those there are: {known}"
            raise self.worked.job.located(JobError(Fault(key="billing.periods", message=message)))
        own = surveyed_hole(self.worked, days.index(str(self.day)))
        day = surveyed_day(self.worked, own)
        if day is None:
            message = f"the survey of {self.day} gives no volumes: {own.hole.why_not}"
            raise self.worked.job.located(JobError(Fault(key="billing.periods", message=message)))
        return day, days_of(self.worked, (day,)).surveys

    @property
    def _now(self) -> Sheet:
        return self._hole[0].sheet

    @property
    def _surveys(self) -> Mapping[str, SurveyTerms]:
        return days_of(self.worked, ()).surveys if self.day is None else self._hole[1]

    def _pay(self, allowance: float) -> "_Pay":
        if allowance not in self._pays:
            self._pays[allowance] = self._made_pay(allowance)
        return self._pays[allowance]

    @cached_property
    def _pays(self) -> "dict[float, _Pay]":
        return {}

    def _made_pay(self, allowance: float) -> "_Pay":
        layout = self.worked.layout
        design = pay_design(layout.design, self.billing.pay_line, layout.projection, allowance)
        same = design == layout.design
        dig = self.worked.dig if same else dig_of(design, self.worked.existing.tin.points)
        now = None if self.day is None else standing(self._before, self._now, dig)
        found = above_dig(self._before, dig) if now is None else now.design
        return _Pay(dig=dig, design=found, now=now)

    def _rock(self) -> Measured:
        """The rock within the design; with a day, what of it is dug."""
        rock, dig = rock_surface(self.worked), self._pay(0.0).dig.surface
        amount = float(overlay(rock, dig).volume_above.sum())
        if self.day is not None:
            low = lower_of(rock, self._now.ground.surface)
            amount -= float(overlay(low, dig).volume_above.sum())
        return Measured(amount=amount, weights={})

    def _undercut(self, depth: float) -> Measured:
        """Dug below the floor within the pay line, down to a depth; nothing of it by the design."""
        if self.day is None:
            return Measured(amount=0.0, weights={})
        dig = self._pay(0.0).dig
        walls = len(self.worked.layout.design.walls)
        is_floor = (row_of(dig.surface.label) < walls) & (part_of(dig.surface.label) != SIDE)
        plane = dig.surface.plane.copy()
        plane[is_floor, 2] -= depth
        lower = replace(dig, surface=dig.surface.with_plane(plane))
        floor = set(np.unique(dig.surface.label[is_floor]).tolist())
        below, beyond = (
            total([more for label, more in own.beyond.items() if label in floor])
            for own in (self._pay(0.0).standing, standing(self._before, self._now, lower))
        )
        return below - beyond

    def _of_lot(self, item: Item) -> Amount:
        graded = self._graded
        rows, lot = lot_rows(graded.account, graded.asked.sides.names, graded.asked.terms)
        if item.of == "stone":
            return Amount(value=sum(row.stone for row in rows), plus_minus_95=None)
        if item.of == "backfill":
            every = [row.backfill for row in rows]
            return Amount(
                value=sum(_in_measure(one, item.measure) for one in every), plus_minus_95=None
            )
        moved = lot.hauled if item.of == "haul" else lot.imported
        return Amount(value=_in_measure(moved, item.measure), plus_minus_95=None)

    @cached_property
    def _graded(self) -> Graded:
        return grade_out(self.worked, lambda stage: None)

    def _by_loads(self, item: Item) -> Amount:
        if self.until is None:
            bank = self.of(item.model_copy(update={"basis": "neat", "measure": "bank"})).value
            loose = bank * (1.0 + self.worked.soil.swell)
        else:
            loose = self.tickets().loose
        factor = factor_of(item.measure, self.worked.soil) / (1.0 + self.worked.soil.swell)
        return Amount(value=loose * factor, plus_minus_95=None)

    def tickets(self) -> Haulage:
        """What the job's truck tickets come to, up to `until`.

        Raises:
            JobError: the job names none, or a weight can't be turned into volume.
            SurveyError: the file can't be read.
        """
        name, job = self.billing.tickets, self.worked.job
        if name is None:
            message = 'the basis "loads" wants a file of truck tickets: tickets = "tickets.csv"'
            raise job.located(JobError(Fault(key="billing.tickets", message=message)))
        try:
            found = read_tickets(name, read_bytes(job.path(name), name))
            if self.until is not None:
                found = up_to(name, found, self.until)
            return haulage(found, self.billing.weight_per_loose_volume)
        except ValueError as error:
            key = "billing.weight_per_loose_volume"
            raise job.located(JobError(Fault(key=key, message=str(error)))) from None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pay:
    """A design to the pay line, its volumes by label, and on a day how far it is dug."""

    dig: Dig
    design: dict[int, Measured]
    now: Standing | None

    @property
    def standing(self) -> Standing:
        """How far it is dug; without a day nothing is."""
        if self.now is not None:
            return self.now
        nothing = Measured(amount=0.0, weights={})
        return Standing(design=self.design, left=dict(self.design), beyond={}, elsewhere=nothing)


def factor_of(measure: str, soil: SoilFactors) -> float:
    """What a bank volume becomes in a measure."""
    return {"bank": 1.0, "loose": 1.0 + soil.swell, "compacted": 1.0 - soil.shrink}[measure]


def _in_measure(quantity: Quantity, measure: str) -> float:
    return {
        "bank": float(quantity.bank),
        "loose": float(quantity.loose),
        "compacted": float(quantity.compacted),
    }[measure]


def pay_design(design: Design, pay_line: str, projection: float, allowance: float) -> Design:
    """The design to the pay line: as it is, or upright planes at the footing's outside edges; the
    allowance goes out from there, the floor stays.
    """

    def paid(wall: Wall) -> Wall:
        if pay_line == "footing":
            return replace(wall, overdig=projection + allowance, side=((0.0, 1.0),))
        return replace(wall, overdig=wall.overdig + allowance)

    if pay_line == "design" and allowance == 0.0:
        return design
    return replace(design, walls=tuple(paid(wall) for wall in design.walls))


def rock_surface(worked: Worked) -> Surface:
    """The top of the rock, where it lies below the ground that was there before.

    Raises:
        JobError: the job gives no survey of it.
        SpoilbankError: it can't be read or made a surface.
    """
    job, billing = worked.job, worked.job.billing
    if billing is None or not billing.rock:
        message = 'rock is billed from a survey of its top: rock = ["rock.csv"]'
        raise job.located(JobError(Fault(key="billing.rock", message=message)))
    try:
        options = ReadOptions(unit=job.unit, folder=job.folder, crs=job.site.crs)
        shots = read_shots(billing.rock, options).shots
        points = np.column_stack([worked.layout.frame.to_local(shots.plan), shots.elevation])
        tin = build_tin(points)
    except SpoilbankError as error:
        raise job.located(error) from error
    return lower_of(tin_surface(tin), worked.existing.ground.surface)


def lower_of(one: Surface, other: Surface) -> Surface:
    """The lower of two surfaces over the ground that both cover."""
    pairs = overlay_faces(one, other)
    above = pairs.side > 0
    return join_faces(
        sound_parts(pairs, ~above, one, pairs.a), sound_parts(pairs, above, other, pairs.b)
    )
