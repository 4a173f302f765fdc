"""The still picture of the dig in space: pixels for the faces, lines and names over them."""

from base64 import b64encode
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt
from shapely import MultiLineString, MultiPoint, Polygon, box

from terrain.base.arrays import BoolArray, FloatArray, IntArray
from terrain.job.answer import Volumes
from terrain.job.scene import Scene
from terrain.report import figures, inks
from terrain.report.camera import Camera, camera_on, house_walls
from terrain.report.key import scale_bar
from terrain.report.labels import Sheet, Spot, around
from terrain.report.names import plain
from terrain.report.palette import GROUND, HOUSE, channels, row_colours
from terrain.report.png import png
from terrain.report.raster import raster
from terrain.report.space import row_tags
from terrain.report.svg import Attribute, element, path_data, text, text_width
from terrain.report.view import NARROW
from terrain.report.written import Written

FINER, MARGIN = 4, 0.03
"""Pixels of the raster for each of the drawing, and the share of its width left free."""

LIGHT = np.array([-0.45, 0.25, 0.86])
SHADE = 0.58
SIZE, NARROW_SIZE = 12.0, 10.5
SHUNNED = 80.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    """The raster: how near, which row (-1 none, `rows` ground) at each fine pixel."""

    near: FloatArray
    row: IntArray


def still_svg(volumes: Volumes, scene: Scene, width: float) -> str:
    """The first view as a drawing `width` pixels wide; every row that is seen has its name."""
    camera = camera_on(scene, width, MARGIN * width)
    size = SIZE if width >= NARROW else NARROW_SIZE
    seen, picture = _faces(scene, camera)
    lines = _drawn_edges(scene, camera, seen)
    words, unseen = _names(volumes, scene, camera, seen)
    ink: dict[str, Attribute] = {"fill": "none", "stroke": inks.INK}
    unit = figures.unit_sign(volumes.ledger.length_unit)
    facts = [f"{volumes.date} · heights not exaggerated", "the scale holds across the view"]
    if unseen:
        told = f"not named in this view: {', '.join(unseen)}"
        if text_width(told, size - 1) > width:
            told = f"{figures.counted(len(unseen), 'name')} had no room: see the colours below"
        facts.append(told)
    below = camera.height + (8 if width >= NARROW else 40)
    notes = [
        text(fact, x=width if width >= NARROW else 0.0, y=below + 8 + 15 * k, fill=inks.FAINT,
             text_anchor="end" if width >= NARROW else "start", font_size=size - 1)
        for k, fact in enumerate(facts)
    ]  # fmt: skip
    return element(
        "svg",
        picture,
        element("path", d=path_data(lines), stroke_width=0.8, **ink),
        *_house_walls(scene, camera),
        _north(camera, size),
        words,
        scale_bar(camera.scale, unit, camera.height, size),
        *notes,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {width:g} {below + 15 * len(facts):g}",
        role="img",
        aria_label=f"The dig in space: {plain(volumes.ledger.title)}",
        font_family=inks.FACE,
        class_="space",
    )


def _faces(scene: Scene, camera: Camera) -> tuple[_Seen, str]:
    """The raster of all faces and the image of it, half as fine."""
    bodies = scene.bodies
    faces = np.concatenate([*(body.faces for body in bodies), scene.ground])
    counts = [*(len(body.faces) for body in bodies), len(scene.ground)]
    row = np.repeat(np.arange(len(counts)), counts)
    points = scene.vertices[faces]
    normal = np.cross(points[:, 1] - points[:, 0], points[:, 2] - points[:, 0])
    normal[row < len(bodies)] *= -1  # the dig is seen from inside the earth that left
    size = np.sqrt(np.sum(normal**2, axis=1, keepdims=True))
    bright = np.clip((normal / np.where(size > 0, size, 1.0)) @ LIGHT, 0, 1)
    colours = [*row_colours([body.kind for body in bodies]), GROUND]
    own = np.array([channels(c) for c in colours], dtype=np.float32)[row]
    lit = own * (SHADE + (1 - SHADE) * bright[:, None]).astype(np.float32)
    fine = camera.pixels(points) * FINER
    near, face = raster(fine, round(camera.width * FINER), round(camera.height * FINER))
    paper = np.array(channels(inks.PAPER), dtype=np.float32)
    shades = np.vstack([lit, paper])[face]
    half = FINER // 2
    rows, columns = (n - n % half for n in face.shape)
    coarse = shades[:rows, :columns].reshape(rows // half, half, columns // half, half, 3)
    pixels: NDArray[np.uint8] = np.round(coarse.mean(axis=(1, 3)) * 255).astype(np.uint8)
    data = b64encode(png(pixels)).decode("ascii")
    image = element("image", href=f"data:image/png;base64,{data}", width=columns / FINER,
                    height=rows / FINER)  # fmt: skip
    return _Seen(near=near, row=np.append(row, -1)[face]), image


def _drawn_edges(scene: Scene, camera: Camera, seen: _Seen) -> list[FloatArray]:
    """The dig's edges as far as seen."""
    return [run for line in camera.pixels(scene.edges) for run in _seen_of(line, seen)]


def _house_walls(scene: Scene, camera: Camera) -> list[str]:
    """The foundation's outside faces, faint: the dig is seen through them."""
    walls = camera.pixels(house_walls(scene))[..., :2]
    faces = [np.concatenate([wall, wall[:1]]) for wall in walls]
    if not faces:
        faces = list(camera.pixels(scene.house)[..., :2])
    return [
        element("path", d=path_data([face]), fill=HOUSE if len(face) > 2 else "none",
                fill_opacity=0.22, stroke=inks.INK, stroke_opacity=0.45, stroke_width=0.8)
        for face in faces
    ]  # fmt: skip


def _seen_of(line: FloatArray, seen: _Seen) -> list[FloatArray]:
    """The stretches (2, 2) of a line (2, 3) in pixels that lie before all faces."""
    length = float(np.hypot(*(line[1] - line[0])[:2]))
    share = np.linspace(0, 1, max(int(length), 1) + 1)
    at = line[0] + share[:, None] * (line[1] - line[0])
    rows, columns = seen.near.shape
    across = np.clip((at[:, 0] * FINER).astype(int), 0, columns - 1)
    down = np.clip((at[:, 1] * FINER).astype(int), 0, rows - 1)
    before = at[:, 2] * FINER >= seen.near[down, across] - 3.0 * FINER
    runs: list[FloatArray] = []
    first = 0
    for k in range(1, len(at) + 1):
        if k == len(at) or before[k] != before[first]:
            last = min(k, len(at) - 1)
            if last > first and before[first]:
                runs.append(at[[first, last], :2])
            first = k
    return runs


def _names(volumes: Volumes, scene: Scene, camera: Camera, seen: _Seen) -> tuple[str, list[str]]:
    """Names with bank volumes tied to what is seen of each row, and the names of the others."""
    ledger = volumes.ledger
    size = SIZE if camera.width >= NARROW else NARROW_SIZE
    unit = figures.unit_sign(ledger.volume_unit)
    bank = {("wall", r.wall): r.quantity.bank for r in ledger.walls}
    bank |= {(r.kind, r.name): r.quantity.bank for r in ledger.pits}
    sheet = _sheet(scene, camera)
    written, unseen = Written(), []
    masks = [_coarse(seen.row == k) for k in range(len(scene.bodies))]
    tags = row_tags(volumes, scene)
    for k in sorted(range(len(masks)), key=lambda k: int(masks[k].sum())):
        body, mask, name = scene.bodies[k], masks[k], tags[k]
        if mask.sum() < 12:
            unseen.append(name)
            continue
        figure = bank.get((body.kind, body.name))
        style: dict[str, Attribute] = {"font_style": "italic"}
        if body.kind == "wall":
            style = {"font_weight": 600.0}
        said = (
            [name]
            if figure is None or camera.width < NARROW
            else [f"{name} {figures.volume(figure)} {unit}", name]
        )
        for content in said:  # the name alone where there is no room for both
            spots = iter(_spots(mask, camera, text_width(content, size)))
            spot = sheet.place(content, size, spots)
            if spot is not None:
                break
        if spot is None:
            unseen.append(name)
        else:
            written.add(content, spot, size, **style)
    halo: dict[str, Attribute] = {
        "stroke": inks.PAPER, "stroke_width": 3.0, "stroke_linejoin": "round",
        "paint_order": "stroke", "text_anchor": "middle", "fill": inks.INK,
    }  # fmt: skip
    return "".join(written.leaders) + element("g", *written.texts, **halo), unseen


def _sheet(scene: Scene, camera: Camera) -> Sheet:
    window = box(2, 2, camera.width - 2, camera.height - 2)
    edges = camera.pixels(scene.edges)[..., :2]
    middle = np.array([camera.width, camera.height]) / 2
    own = [edges.reshape(-1, 2)] if len(edges) else [middle[None]]
    dug = MultiPoint(np.concatenate(own)).convex_hull
    return Sheet(
        window=window,
        lines=MultiLineString(list(edges)),
        taken=[box(camera.width - 80, 12, camera.width - 10, 92)],
        shunned=dug if isinstance(dug, Polygon) else Polygon(),
    )


def _coarse(mask: BoolArray) -> BoolArray:
    """The mask at drawing pixels."""
    return mask[FINER // 2 :: FINER, FINER // 2 :: FINER]


def _spots(mask: BoolArray, camera: Camera, length: float) -> list[Spot]:
    """On what is seen of a row where the text fits, else about it with a leader."""
    inner = distance_transform_edt(np.pad(mask, 1))[1:-1, 1:-1]
    down, across = np.unravel_index(int(np.argmax(inner)), mask.shape)
    place = np.array([across + 0.5, down + 0.5])
    half, tall = int(length / 2) + 2, int(0.7 * SIZE)
    room = mask[max(down - tall, 0) : down + tall, max(across - half, 0) : across + half]
    spots = []
    if room.shape == (2 * tall, 2 * half) and room.all():
        spots.append(Spot(middle=(float(place[0]), float(place[1])), cost=-SHUNNED))
    outward = place - np.array([camera.width, camera.height]) / 2
    return [*spots, *around(place, outward, 0.0, length)]


def _north(camera: Camera, size: float) -> str:
    """An arrow that lies on the ground's level, at the top right."""
    reach = 26.0 / camera.scale
    ends = camera.pixels(np.array([[0.0, 0.0, 0.0], [0.0, reach, 0.0]]))[:, :2]
    along = ends[1] - ends[0]
    tail = np.array([camera.width - 44.0, 52.0]) - along / 2
    tip = tail + along
    side = np.array([-along[1], along[0]]) / max(float(np.hypot(*along)), 1e-9)
    back = along / max(float(np.hypot(*along)), 1e-9)
    head = np.stack([tip, tip - 9 * back + 4.5 * side, tip - 9 * back - 4.5 * side, tip])
    beyond = tip + 10 * back
    return "".join(
        [
            element("path", d=path_data([np.stack([tail, tip])]), stroke=inks.INK,
                    stroke_width=1.4, fill="none"),
            element("path", d=path_data([head]), fill=inks.INK),
            text("N", x=float(beyond[0]), y=float(beyond[1]) + 4, text_anchor="middle",
                 font_size=size, font_weight="bold", fill=inks.INK),
        ]
    )  # fmt: skip
