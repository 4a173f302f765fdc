"""The sheet of a plan drawing: the window with its frame and north arrow, and the key under it."""

from dataclasses import dataclass

from terrain.base.arrays import FloatArray
from terrain.report import inks
from terrain.report.key import KeyItem, flow, north_arrow, scale_bar
from terrain.report.naming import north_place
from terrain.report.svg import element, text
from terrain.report.view import NARROW, View


@dataclass(frozen=True, slots=True, kw_only=True)
class Framed:
    """What stands round a plan: its title for those who can't see it, and its key.

    `notes` are lines beside the scale bar, `keys` groups of samples, each group from a new row.
    `name` opens the ids of the drawing; `north` is where the arrow stands if not in its corner.
    """

    view: View
    name: str
    title: str
    unit: str
    size: float
    notes: tuple[str, ...]
    keys: tuple[list[KeyItem], ...]
    north: FloatArray | None = None


def framed(sheet: Framed, definitions: str, *layers: str) -> str:
    """The whole drawing as SVG, its layers clipped to the window."""
    view, name = sheet.view, sheet.name
    key, bottom = _key(sheet)
    window = element(
        "g",
        element("rect", width=view.width, height=view.height, fill=inks.LAND),
        *layers,
        north_arrow(north_place(view) if sheet.north is None else sheet.north, sheet.size),
        clip_path=f"url(#{name}-window)",
    )
    frame = element("rect", width=view.width, height=view.height, fill="none",
                    stroke=inks.FAINT, stroke_width=1.0)  # fmt: skip
    return element(
        "svg",
        definitions,
        window,
        frame,
        key,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"-1 -1 {view.width + 2:g} {bottom + 2:g}",
        role="img",
        aria_label=sheet.title,
        font_family=inks.FACE,
        class_=f"plan {name}",
    )


def _key(sheet: Framed) -> tuple[str, float]:
    """Scale bar, notes and the groups of samples; and where they end."""
    view, size = sheet.view, sheet.size
    is_narrow = view.width < NARROW
    bar = scale_bar(view.scale, sheet.unit, view.height + 8, size)
    below = 44 if is_narrow else 18
    facts = [
        text(
            line,
            x=0 if is_narrow else view.width,
            y=view.height + below + 16 * row,
            text_anchor="start" if is_narrow else "end",
            font_size=size - 0.5,
            fill=inks.FAINT,
        )
        for row, line in enumerate(sheet.notes)
    ]
    top = view.height + below + 16 * len(sheet.notes) + 2
    if not is_narrow:
        top = max(top, view.height + 36)
    drawn = []
    for items in filter(None, sheet.keys):
        group, top = flow(items, view.width, top, size)
        drawn.append(group)
        top += 6
    return "".join([bar, *facts, *drawn]), top - 6
