"""What orders of digging are called, and the figures they are compared by."""

from itertools import takewhile

from terrain.job.dig_plan_record import DigPlan, Hours, OrderTold, Pass
from terrain.report import figures
from terrain.report.dig_plan_stand_words import stands_words
from terrain.report.names import plain
from terrain.report.told import Words


def first_pass(plan: DigPlan) -> Pass | None:
    """The first pass at a wall, that of a trench dug before them if there is no other."""
    walls = [one for one in plan.passes if one.stand.kind != "extra"]
    return next(iter(walls or plan.passes), None)


def first_wall(plan: DigPlan) -> str:
    """Where the first stand is: the wall an order starts along may have none of its own."""
    first = first_pass(plan)
    return plan.orders[0].start_wall if first is None else first.wall


def before_words(plan: DigPlan) -> str | None:
    """What is dug before the first wall, from over its line; None where nothing is."""
    first = first_pass(plan)
    ahead = [] if first is None else list(takewhile(lambda one: one is not first, plan.passes))
    if not ahead:
        return None
    names = " and ".join(dict.fromkeys(plain(one.wall) for one in ahead))
    stands = stands_words(tuple(one.stand.number for one in ahead))
    return f"before that {stands} over {names}, from the top, while the ground about it is whole"


def order_name(order: OrderTold) -> str:
    """What an order is called wherever it is told: `from front, clockwise`."""
    return f"from {plain(order.start_wall)}, {order.direction}"


def start_words(plan: DigPlan) -> str | None:
    """Why the first stand is not on the wall that the best order is called by; None where it is."""
    wall = plan.orders[0].start_wall
    if wall == first_wall(plan):
        return None
    later = any(one.wall == wall for one in plan.passes)
    return f"{plain(wall)} itself {'has its stands later' if later else 'has no stand'}"


def hours_words(hours: Hours) -> str:
    """Machine-hours as a range."""
    return f"{hours.low:.1f} to {hours.high:.1f}"


def bucket_part(plan: DigPlan) -> str:
    """What the bucket's hours are of the working day; where they are longer, that they are."""
    if plan.hours.high <= plan.hoe_hours:
        return "of them the bucket is at work"
    return "the bucket at work, longer than that: plan by this"


def order_words(order: OrderTold, number: int) -> Words:
    """An order as a row of the comparison."""
    return {
        "number": str(number),
        "name": order_name(order),
        "rims": figures.count(order.rim_corners),
        "hours": hours_words(order.hours),
        "rehandled": figures.volume(order.rehandled_loose),
        "haul": figures.volume(order.haul_loose),
        "left": figures.volume(order.left_bank),
        "why": plain(order.why),
    }
