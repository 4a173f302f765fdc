"""The dig plan on a terminal of 80 columns."""

from collections.abc import Iterator
from functools import partial

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text

from terrain.job.dig_plan_buckets import thrown
from terrain.job.dig_plan_record import DigPlan, Hours, Pass
from terrain.job.dig_plan_set_out import set_out
from terrain.report import figures
from terrain.report.dig_plan_order_words import (
    before_words,
    bucket_part,
    first_pass,
    first_wall,
    order_name,
    start_words,
)
from terrain.report.dig_plan_stand_words import facing_words
from terrain.report.dig_plan_start_words import floor_words, unplaced_words
from terrain.report.grouping import said_once
from terrain.report.names import encodable, plain, shortened
from terrain.report.table import WIDEST, Say, caution_text, print_listed

NAME_ROOM = 15
ORDERS_SHOWN = 5


def show_dig_plan(plan: DigPlan, console: Console) -> None:
    """Print orders, passes, places, hours and cautions; no line over 80 columns."""
    say = partial(encodable, encoding=console.encoding)
    width = min(console.width, WIDEST)
    console.print(Text(say(plain(plan.title)), style="bold"), width=width)
    for line in _answer(plan):
        console.print(Text(say(line)), width=width)
    console.print(Text("\nOrders compared, best first", style="bold"))
    console.print(_orders(plan, say), width=width)
    for order in plan.orders[:ORDERS_SHOWN]:
        told = f"{order_name(order)}: {plain(order.why)}"
        print_listed(Text(say(told)), console, width)
    apart = ", topsoil off before" if plan.topsoil_bank > 0 else ""
    apart += "; what is under a bucket to a place is left out"
    console.print(Text(say(f"\nPasses, {_unit(plan)}{apart}"), style="bold"))
    console.print(_passes(plan, say), width=width)
    console.print(Text(say(f"\nPlaces, loose {_unit(plan)}"), style="bold"))
    console.print(_places(plan, say), width=width)
    if plan.cautions:
        console.print(Text("\nBe careful", style="bold"))
    for said in said_once(plan.cautions):
        print_listed(caution_text(said, say), console, width)
    console.print(Text("\nAssumed", style="bold"))
    for text in (*plan.assumed, *plan.notes):
        print_listed(Text(say(plain(text))), console, width)


def _unit(plan: DigPlan) -> str:
    return figures.unit_sign(plan.volume_unit)


def _answer(plan: DigPlan) -> Iterator[str]:
    best, unit = plan.orders[0], _unit(plan)
    opening, wall = "Start", plain(first_wall(plan))
    first = first_pass(plan)
    if first is not None:
        at = first.stand
        opening = f"First stand: {at.number}, facing {facing_words(at.heading)},"
    without, before = start_words(plan), before_words(plan)
    ahead = "" if before is None else f" ({before})"
    yield (
        f"{opening} on {wall}{ahead}; go {best.direction}. This is the order “{order_name(best)}”"
        f"{'' if without is None else f' ({without})'}: "
        f"{figures.counted(best.rim_corners, 'rim corner')} (such a corner is finished from "
        "outside, over the edge, down a face out of sight)"
    )
    yield (
        f"Hours to plan the day by: {plan.hoe_hours:.0f}, an estimating book's rate with its hours "
        f"to bring and set up the machine; {bucket_part(plan)}: {_hours(plan.hours)}, by published "
        "factors and a 50-minute hour, without setting out, moving and taping by hand"
    )
    floor, what = floor_words(plan)
    yield f"Dig down to elevation {floor}: {what}"
    yield (
        f"To dig {figures.volume(plan.bank)} {unit} as it lies in the ground (bank), "
        f"{figures.volume(plan.loose)} once dug (loose); of it topsoil "
        f"{figures.volume(plan.topsoil_bank)} bank"
    )
    loads = "" if plan.loads is None else f", {figures.counted(plan.loads, 'truck load')}"
    yield (
        f"Moved twice (re-handled) {figures.volume(plan.rehandled_loose)} {unit} loose, hauled off "
        f"{figures.volume(plan.haul_loose)}{loads}"
    )
    unplaced = unplaced_words(plan)
    if unplaced is not None:
        yield f"Not yet placed: {unplaced['much']} {unplaced['ways']}"
    if plan.left_why:
        yield f"Not dug {figures.volume(plan.left_bank)} {unit} bank: {plain(plan.left_why)}"
    for corner in plan.rim_corners:
        stand = "no stand" if corner.stand is None else f"stand {corner.stand}"
        yield f"Rim corner: {plain(corner.between[0])} / {plain(corner.between[1])}, {stand}"


def _hours(hours: Hours) -> str:
    return f"{hours.low:.1f} to {hours.high:.1f}"


def _table(*columns: str) -> Table:
    table = Table(box=SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, 1, 0, 0))
    for count, column in enumerate(columns):
        table.add_column(
            column, justify="left" if count == 0 else "right", no_wrap=True, overflow="crop"
        )
    return table


def _name(name: str, say: Say) -> Text:
    return Text(say(shortened(say(plain(name)), NAME_ROOM)))


def _orders(plan: DigPlan, say: Say) -> Table:
    table = _table("from", "way round", "rim", "moved twice", "hauled", "not dug", "hours")
    for order in plan.orders:
        table.add_row(
            _name(order.start_wall, say),
            order.direction,
            str(order.rim_corners),
            figures.volume(order.rehandled_loose),
            figures.volume(order.haul_loose),
            figures.volume(order.left_bank),
            _hours(order.hours),
        )
    return table


def _passes(plan: DigPlan, say: Say) -> Table:
    table = _table("stand", "wall", "from", "to", "bank", "loose", "put to")
    table.columns[1].justify = "left"
    table.columns[-1].justify = "left"
    table.columns[-1].no_wrap = False
    table.columns[-1].overflow = "fold"
    for told in set_out(plan):
        one = told.one
        kind = "" if one.stand.kind == "wall" else f" {one.stand.kind}"
        table.add_row(
            f"{one.stand.number}{kind}",
            _name(one.wall, say),
            figures.length(one.station_from, plan.length_unit),
            figures.length(one.station_to, plan.length_unit),
            figures.volume(told.bank),
            figures.volume(told.loose),
            Text(say(_to(one))),
        )
    return table


def _to(one: Pass) -> str:
    casts = [cast for cast in thrown(one) if cast.buckets > 0]  # topsoil was stripped before
    told = ", ".join(f"{plain(cast.place)} {figures.volume(cast.loose)}" for cast in casts)
    return told or "under a bucket"


def _places(plan: DigPlan, say: Say) -> Table:
    table = _table("place", "needs", "gets", "room for", "buckets", "remark")
    table.columns[-1].justify = "left"
    table.columns[-1].no_wrap = False
    table.columns[-1].overflow = "fold"
    for place in plan.places:
        table.add_row(
            _name(place.name, say),
            figures.volume(place.needed),
            figures.volume(place.cast),
            figures.volume(place.capacity),
            figures.count(place.buckets),
            Text(say(plain(place.why))),
        )
    return table
