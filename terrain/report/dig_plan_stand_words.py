"""Where a stand is and which way the machine faces, as one says it on the lot."""

from terrain.job.dig_plan_record import DigPlan, Stand
from terrain.report import figures
from terrain.report.names import plain

POINTS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
KINDS = {
    "wall": "",
    "rim": "outside the edge, on the rim; ",
    "floor": "down on the floor; ",
    "extra": "over the line of {wall}; ",
}


def facing_words(heading: float) -> str:
    """A heading as one of eight points of the compass."""
    return POINTS[round(heading / 45.0) % len(POINTS)]


def spot_words(plan: DigPlan, stand: Stand) -> str:
    """How far along its wall, from the corner with the wall before it as the job draws them."""
    walls, unit = plan.site.walls, figures.unit_sign(plan.length_unit)
    opening = KINDS[stand.kind].format(wall=plain(stand.wall))
    along = figures.length(abs(stand.station), plan.length_unit)
    if stand.wall not in walls:
        return f"{opening}{along} {unit} along {plain(stand.wall)}"
    before = plain(walls[walls.index(stand.wall) - 1])
    corner = f"the {before} / {plain(stand.wall)} corner"
    if stand.station < 0:
        return f"{opening}{along} {unit} past {corner}, in line with the wall"
    return f"{opening}{along} {unit} along the wall from {corner}"
