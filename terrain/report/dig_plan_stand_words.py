"""Where a stand is, what is dug and where it goes, as one says it on the lot."""

from terrain.job.dig_plan_record import CardWall, DigPlan
from terrain.job.dig_plan_set_out import Loaded, SetOut, Spot, Tape, stands_in, wall_number
from terrain.report import figures
from terrain.report.names import plain

POINTS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
OPENINGS = {
    "wall": "",
    "rim": "On the rim, outside the painted edge: ",
    "floor": "Down on the floor: ",
    "extra": "Over the line of {wall}: ",
}
GROUND = {
    "wall": "You are on ground not dug yet, what you dig is in front: watch for cracks under the "
    "tracks, keep them square to the edge, dig nothing from under them.",
    "rim": "You are at the edge of the cut, over a face out of your sight: somebody in safe view "
    "guides you; watch for cracks under the tracks.",
    "extra": "You are on ground not dug yet over the line of {wall} and back away from what you "
    "dig: dig nothing from under the tracks.",
}
ALPHABET = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def facing_words(heading: float) -> str:
    """A heading as one of eight points of the compass."""
    return POINTS[round(heading / 45.0) % len(POINTS)]


def corner_letter(corner: int) -> str:
    """A corner's letter, in the order the job draws them: A to Z, then AA, AB."""
    first, second = divmod(corner, len(ALPHABET))
    return (ALPHABET[first - 1] if first else "") + ALPHABET[second]


def corner_walls(plan: DigPlan, corner: int) -> str:
    """The two walls that meet at a corner: `kitchen / east`."""
    walls = plan.site.walls
    return f"{plain(walls[corner - 1])} / {plain(walls[corner])}"


def wall_letters(plan: DigPlan, wall: int) -> str:
    """The letters of a wall's ends: `E–F`."""
    end = (wall + 1) % len(plan.site.walls)
    return f"{corner_letter(wall)}–{corner_letter(end)}"


def spot_words(plan: DigPlan, told: SetOut) -> str:
    """Where the middle of the machine is: along and off its wall, or by two tapes."""
    spot, stand = told.spot, told.one.stand
    opening = OPENINGS[stand.kind].format(wall=plain(stand.wall))
    if spot.past or spot.corner is None:
        return f"{opening}{_by_tapes(plan, spot)}{_in_line(plan, told)}."
    along = figures.on_tape(spot.along, plan.length_unit)
    return (
        f"{opening}middle of the machine {along} {facing_words(spot.heading)} of corner "
        f"{corner_letter(spot.corner)} ({corner_walls(plan, spot.corner)}) along the wall, and "
        f"{_off_line(plan, spot)}."
    )


def _off_line(plan: DigPlan, spot: Spot) -> str:
    off = figures.on_tape(abs(spot.inside), plan.length_unit)
    return f"{off} {'inside' if spot.inside >= 0 else 'outside'} the wall line"


def _by_tapes(plan: DigPlan, spot: Spot) -> str:
    one, two = spot.tapes
    letters = f"{corner_letter(one.corner)} to {corner_letter(two.corner)}"
    return (
        f"middle of the machine by two tapes, {_tape(plan, one)} and {_tape(plan, two)}, on the "
        f"{facing_words(spot.side)} side of the line {letters}"
    )


def _tape(plan: DigPlan, tape: Tape) -> str:
    far = figures.on_tape(tape.length, plan.length_unit)
    return f"{far} from corner {corner_letter(tape.corner)} ({corner_walls(plan, tape.corner)})"


def _in_line(plan: DigPlan, told: SetOut) -> str:
    near = [tape.corner for tape in told.spot.tapes]
    if told.spot.corner is None or told.spot.corner not in near:
        return ""
    return (
        f"; that is past corner {corner_letter(told.spot.corner)}, {_off_line(plan, told.spot)} of "
        f"{plain(told.one.wall)}"
    )


def ground_words(plan: DigPlan, told: SetOut) -> str | None:
    """What is true of the ground at this kind of stand; on the floor `face_words` says it."""
    words = GROUND.get(told.one.stand.kind)
    return None if words is None else words.format(wall=plain(told.one.wall))


def ramp_words(plan: DigPlan, name: str) -> str:
    """A ramp with its width, its fall and who cuts it."""
    unit = figures.unit_sign(plan.length_unit)
    told = f"the ramp “{plain(name)}”"
    ramp = next((ramp for ramp in plan.ground.ramps if ramp.name == name), None)
    if ramp is not None:
        width = figures.length(ramp.width, plan.length_unit)
        told += f" ({width} {unit} wide, {ramp.run:g} out : 1 down)"
    rings = next((rings for own, kind, rings in plan.site.extras if own == name and kind == "ramp"),
                 ())  # fmt: skip
    stands = stands_in(plan, rings) if rings else ()
    return told + (f", cut from {stands_words(stands)}" if stands else "")


def stands_words(stands: tuple[int, ...]) -> str:
    """Stands by number, runs as runs: `stand 1`, `stands 2–6 and 21`."""
    runs: list[list[int]] = []
    for number in stands:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    told = [f"{run[0]}–{run[-1]}" if len(run) > 1 else f"{run[0]}" for run in runs]
    opening = "stand" if len(stands) == 1 else "stands"
    listed = told[0] if len(told) == 1 else ", ".join(told[:-1]) + f" and {told[-1]}"
    return f"{opening} {listed}"


def face_words(plan: DigPlan, told: SetOut) -> str | None:
    """Which face a competent person judges before a stand on the floor; None for others."""
    if told.one.stand.kind != "floor":
        return None
    names = dict.fromkeys((*told.one.sides, told.one.wall))
    cuts = [cut for cut in plan.ground.cuts if cut.wall in names]
    faces = f"face along {' and '.join(plain(name) for name in names)}"
    high, unit = "", plan.length_unit
    if cuts:
        deep = figures.length(max(cut.depth[1] for cut in cuts), unit)
        high = f", up to {deep} {figures.unit_sign(unit)} high"
    first = next(one.stand.number for one in plan.passes if one.stand.kind == "floor")
    swing, spare = (
        figures.on_tape(value, unit) for value in (plan.machine.tail_swing, plan.machine.tail_clear)
    )
    clear = (
        f"Your tail swings {swing} round: this spot is {spare} more than that from the foot of "
        "every face and from ground not dug yet. Check it before you swing."
    )
    if told.one.stand.number != first:
        return (
            f"Judged as before stand {first}: the {faces}{high}, and all within your reach. Check "
            f"your tail, {swing} round: {spare} to spare to every face and to ground not dug yet."
        )
    return (
        f"Before you go there a competent person judges the {faces}{high}, and every face within "
        f"your reach. {clear} While you are down there no truck stands at the edge above but the "
        "one you load, and a pile nearer to the edge than the face is high is judged too or moved "
        "back."
    )


def loads_told(plan: DigPlan) -> str:
    """Loads in all, and how many of them leave while digging where that is not all of them."""
    told = f"{figures.counted(plan.loads or 0, 'load')} in all"
    if plan.loads_dug is None or plan.loads_dug == plan.loads:
        return told
    return f"{told}, {figures.count(plan.loads_dug)} while digging, the others later from the piles"


def load_words(plan: DigPlan, loaded: Loaded) -> str | None:
    """Which truck loads a cast goes in: `loads 2 to 3 of 11`; None for no truck."""
    if loaded.first is None or loaded.last is None:
        return None
    of = f" of {figures.count(plan.loads_dug)}" if plan.loads_dug is not None else ""
    run = figures.ranged(figures.count(loaded.first), figures.count(loaded.last))
    return f"{'load' if loaded.first == loaded.last else 'loads'} {run}{of}"


def side_in_words(plan: DigPlan, wall: CardWall) -> str:
    """A side as a foreman says it, from the floor up."""
    cut = next((c for c in plan.ground.cuts if c.wall == wall.wall), None)
    if cut is None:
        return wall.side
    return steps_in_words(cut.steps, figures.unit_sign(plan.length_unit))


def steps_in_words(steps: tuple[tuple[float, float], ...], unit: str) -> str:
    """The same of (run, rise) steps."""
    said = []
    for at, (run, rise) in enumerate(steps):
        last = at == len(steps) - 1
        if run == 0:
            said.append("straight up" if len(steps) == 1 else f"{rise:g} {unit} straight up")
        elif rise == 0:
            said.append(f"a level bench {run:g} {unit} wide")
        else:
            slope = f"{run / rise:g} out : 1 up"
            said.append(slope if last else f"{slope} for {rise:g} {unit} of height")
    run, rise = steps[-1]
    again = len(steps) > 1 and (run == 0 or rise == 0)
    return ", then ".join(said) + (", then the same again" if again else "")


def paint_words(plan: DigPlan, wall: str) -> tuple[str, str] | None:
    """Where to paint a wall's top edge, and ground and depth there; None where nothing is cut."""
    cut = next((c for c in plan.ground.cuts if c.wall == wall), None)
    if cut is None:
        return None
    unit, sign = plan.length_unit, figures.unit_sign(plan.length_unit)
    first, last = (figures.on_tape(value, unit) for value in cut.ends)
    number = wall_number(plan, wall)
    out = figures.ranged(first, last)
    if first != last and number is not None:
        end = (number + 1) % len(plan.site.walls)
        out = f"{first} at {corner_letter(number)}, {last} at {corner_letter(end)}"
    ground = figures.ranged(*(figures.coordinate(value, unit) for value in cut.ground))
    return out, f"ground there {ground}, cut {_span(cut.depth[0], cut.depth[1], unit)} {sign} deep"


def _span(low: float, high: float, unit: str) -> str:
    return figures.ranged(figures.length(low, unit), figures.length(high, unit))
