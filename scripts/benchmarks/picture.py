"""How work grows with size, drawn: both axes in decades, one line a job, its name at its end."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

WIDTH, HEIGHT = 900, 560
LEFT, RIGHT, TOP, BOTTOM = 70, 250, 56, 56
TITLE = "Seconds of all cores against size"
APART = 19.0  # between names
PAPER, INK, FAINT, GUIDE = "#fffdf8", "#3a352d", "#e6e0d2", "#a59c8a"
COLOURS = ("#98602f", "#2f4d63", "#44706e", "#6b4d74", "#5a5a35", "#7d766d", "#b07d2b")
DASHES = ("", "9 4", "2 4", "12 4 2 4", "5 3", "1 3", "16 5")
"""Lines differ by dash too, for grey printers, and each has its name beside it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """The seconds that all cores spent on one job at each size: load disturbs them least."""

    job: str
    sizes: tuple[int, ...]
    seconds: tuple[float, ...]

    @property
    def power(self) -> float:
        """How steep the last two sizes are: seconds grow as size to this power."""
        rise = math.log(self.seconds[-1] / self.seconds[-2])
        return rise / math.log(self.sizes[-1] / self.sizes[-2])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Frame:
    """From sizes and seconds to pixels, in whole decades of each."""

    left: int
    right: int
    low: int
    high: int

    @classmethod
    def of(cls, curves: Sequence[Curve]) -> "_Frame":
        sizes = [s for c in curves for s in c.sizes]
        seconds = [s for c in curves for s in c.seconds]
        return cls(
            left=math.floor(math.log10(min(sizes))),
            right=math.ceil(math.log10(max(sizes))),
            low=math.floor(math.log10(min(seconds))),
            high=math.ceil(math.log10(max(seconds))),
        )

    def place(self, size: float, seconds: float) -> tuple[float, float]:
        along = (math.log10(size) - self.left) / max(self.right - self.left, 1)
        up = (math.log10(seconds) - self.low) / max(self.high - self.low, 1)
        return (
            LEFT + along * (WIDTH - LEFT - RIGHT),
            HEIGHT - BOTTOM - up * (HEIGHT - TOP - BOTTOM),
        )


def picture(curves: Sequence[Curve], said: str) -> str:
    """The drawing as SVG; `said` stands below its title."""
    frame = _Frame.of(curves)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" '
        f'font-family="sans-serif" font-size="14" fill="{INK}">',
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="{PAPER}"/>',
        f'<text x="16" y="26" font-size="17" font-weight="bold">{TITLE}</text>',
        f'<text x="16" y="45" font-size="12">{escape(said)}. Dotted: ten times the size takes '
        "ten times as long; beside a job, how steep its last step is.</text>",
        *_decades(frame),
        *_guides(frame),
    ]
    ends = _parted([frame.place(c.sizes[-1], c.seconds[-1])[1] for c in curves])
    for k, (curve, at) in enumerate(zip(curves, ends, strict=True)):
        parts += _line(curve, frame, k, at)
    return "\n".join([*parts, "</svg>\n"])


def _decades(frame: _Frame) -> list[str]:
    """A faint line at each power of ten, with its number."""
    drawn = []
    for power in range(frame.left, frame.right + 1):
        x, y = frame.place(10.0**power, 10.0**frame.low)
        drawn += [_stroke([(x, y), (x, TOP)], FAINT), _words(x, y + 20, f"{10**power:,}", "middle")]
    for power in range(frame.low, frame.high + 1):
        x, y = frame.place(10.0**frame.left, 10.0**power)
        number = f"{10**power:,} s" if power >= 0 else f"{10.0**power:.{-power}f} s"
        drawn += [
            _stroke([(x, y), (WIDTH - RIGHT, y)], FAINT), _words(x - 8, y + 5, number, "end"),
        ]  # fmt: skip
    middle = (LEFT + WIDTH - RIGHT) / 2
    return [*drawn, _words(middle, HEIGHT - 10, "shots, or points of a cloud", "middle")]


def _guides(frame: _Frame) -> list[str]:
    """Lines along which ten times the size takes ten times as long."""
    drawn = []
    for power in range(frame.low - frame.right, frame.high - frame.left):
        ends = []
        for size in (frame.left, frame.right):
            up = min(max(size + power, frame.low), frame.high)
            ends.append(frame.place(10.0 ** (up - power), 10.0**up))
        if ends[0] != ends[1]:
            drawn.append(_stroke(ends, GUIDE, "1 5", 0.8))
    return drawn


def _line(curve: Curve, frame: _Frame, k: int, at: float) -> list[str]:
    colour, dash = COLOURS[k % len(COLOURS)], DASHES[k % len(DASHES)]
    places = [frame.place(*pair) for pair in zip(curve.sizes, curve.seconds, strict=True)]
    dots = [f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3.5" fill="{colour}"/>' for x, y in places]
    end, name = places[-1], f"{curve.job}, size^{curve.power:.2f}"
    lead = [(end[0] + 5, end[1]), (WIDTH - RIGHT + 26, at), (WIDTH - RIGHT + 32, at)]
    return [
        _stroke(places, colour, dash, 2.2), *dots, _stroke(lead, colour, "", 0.8),
        _words(WIDTH - RIGHT + 36, at + 5, name, "start"),
    ]  # fmt: skip


def _parted(heights: list[float]) -> list[float]:
    """Places for names near these heights, in their order and apart."""
    order = sorted(range(len(heights)), key=lambda k: heights[k])
    at = [heights[k] for k in order]
    for k in range(1, len(at)):
        at[k] = max(at[k], at[k - 1] + APART)
    over = max(at[-1] - (HEIGHT - BOTTOM), 0.0)
    at[-1] -= over
    for k in range(len(at) - 2, -1, -1):
        at[k] = min(at[k], at[k + 1] - APART)
    placed = dict(zip(order, at, strict=True))
    return [placed[k] for k in range(len(heights))]


def _stroke(
    places: Sequence[tuple[float, float]], colour: str, dash: str = "", width: float = 1.0
) -> str:
    points = " ".join(f"{x:.1f},{y:.1f}" for x, y in places)
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<polyline points="{points}" fill="none" stroke="{colour}" '
        f'stroke-width="{width}"{dashed}/>'
    )


def _words(x: float, y: float, said: str, anchor: str) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{escape(said)}</text>'
