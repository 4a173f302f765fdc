"""The page `plan.html`: where to stand, in what order, where each bucket goes; no network."""

from markupsafe import Markup

from terrain.job.dig_plan_record import DigPlan
from terrain.job.dig_plan_set_out import set_out
from terrain.report import figures
from terrain.report.dig_plan_extra_words import extra_words
from terrain.report.dig_plan_order_words import order_words
from terrain.report.dig_plan_piece_words import ROUGH
from terrain.report.dig_plan_stand_words import corner_letter, corner_walls
from terrain.report.dig_plan_start_words import (
    corner_lines,
    edge_words,
    floor_words,
    mark_words,
    setback_words,
    topsoil_words,
    unplaced_words,
)
from terrain.report.dig_plan_svg import dig_plan_close, dig_plan_paper, dig_plan_svg
from terrain.report.dig_plan_words import (
    answer_words,
    machine_words,
    move_words,
    pass_words,
    place_words,
    rim_words,
    truck_told,
)
from terrain.report.grouping import said_once
from terrain.report.names import plain
from terrain.report.scripts import stepper_scripts
from terrain.report.told import NARROW_PLAN, WIDE_PLAN, caution_words, page_template

ORDERS_SHOWN = 6


def dig_plan_html(plan: DigPlan) -> str:
    """The whole page as text; every figure on it is an attribute of the plan, rounded."""
    scripts = stepper_scripts()
    paper_plan, paper_key = dig_plan_paper(plan, "page")
    orders = [order_words(order, k) for k, order in enumerate(plan.orders, start=1)]
    return page_template("dig_plan.html").render(
        title=plain(plan.title),
        date=plan.date,
        start=plain(plan.start),
        units={
            "length": figures.unit_sign(plan.length_unit),
            "length_words": figures.length_words(plan.length_unit),
            "volume": figures.unit_sign(plan.volume_unit),
        },
        answer=answer_words(plan),
        orders=orders[:ORDERS_SHOWN],
        others=orders[ORDERS_SHOWN:],
        has_left=any(order.left_bank > 0 for order in plan.orders),
        passes=[pass_words(plan, told) for told in set_out(plan)],
        floor=floor_words(plan),
        topsoil=topsoil_words(plan),
        unplaced=unplaced_words(plan),
        edges=edge_words(plan),
        setback=setback_words(plan),
        lines=[*corner_lines(plan), *truck_told(plan), *mark_words(plan)],
        extras=extra_words(plan),
        rough=ROUGH,
        letters=[(corner_letter(k), corner_walls(plan, k)) for k in range(len(plan.site.walls))],
        places=[place_words(plan, place) for place in plan.places],
        rims=rim_words(plan),
        moves=move_words(plan),
        wide_plan=Markup(dig_plan_svg(plan, WIDE_PLAN, "wide")),
        narrow_plan=Markup(dig_plan_svg(plan, NARROW_PLAN, "slim")),
        close_plan=Markup(dig_plan_close(plan, NARROW_PLAN, "near")),
        paper_plan=Markup(paper_plan),
        paper_key=Markup(paper_key),
        cautions=[caution_words(said) for said in said_once(plan.cautions)],
        machine=machine_words(plan),
        assumed=[plain(line) for line in plan.assumed],
        notes=[plain(line) for line in plan.notes],
        crs=None if plan.crs is None else plain(plan.crs),
        job_file=plain(plan.job_file),
        version=plan.version,
        policy=scripts.policy,
        scripts=[Markup(text) for text in scripts.texts],
    )
