"""What the page's viewer draws in space, as JSON: places to 1/65535 of the scene and words."""

import json
from base64 import b64encode
from typing import TypeAlias

import numpy as np

from terrain.base.arrays import FloatArray, IntArray
from terrain.job.answer import Volumes
from terrain.job.scene import Scene
from terrain.report import figures, inks
from terrain.report.camera import ELEVATION, house_walls
from terrain.report.names import plain, shortened, told_apart
from terrain.report.palette import EARTH, GROUND, HOUSE, row_colours

STEPS = 65535
"""Places along each axis: unsigned numbers of 16 bits."""

LONGEST_NAME = 24

Json: TypeAlias = "str | int | float | dict[str, Json] | list[Json]"


def space_data(volumes: Volumes, scene: Scene) -> dict[str, Json]:
    """The scene for the viewer, its arrays little-endian in base 64.

    Places are whole steps from the lowest corner. Faces index them, three a triangle, in 32 bits.
    `walls` are triangles of the foundation's faces by their places.
    Words are as the page prints them.
    """
    lines = np.concatenate([scene.edges, scene.house]).reshape(-1, 3)
    points = np.concatenate([scene.vertices, lines])
    low = points.min(axis=0)
    size = np.maximum(points.max(axis=0) - low, 1e-9)
    steps = np.round((scene.vertices - low) / size * STEPS).astype("<u2")
    places, place = np.unique(steps, axis=0, return_inverse=True)
    place = place.reshape(-1)
    names, banks = zip(*row_words(volumes, scene), strict=True) if scene.bodies else ((), ())
    colours = row_colours([body.kind for body in scene.bodies])
    walls = house_walls(scene)[:, [0, 1, 2, 0, 2, 3]]
    return {
        "step": (size / STEPS).tolist(),
        "places": _packed(places),
        "bodies": [
            {
                "name": name,
                "bank": bank,
                "kind": body.kind,
                "colour": colour,
                "faces": _faces(place, body.faces),
                "lid": _faces(place, body.lid),
                "spot": (body.spot - low).tolist(),
                "crown": (body.crown - low).tolist(),
            }
            for body, name, bank, colour in zip(scene.bodies, names, banks, colours, strict=True)
        ],
        "ground": {"colour": GROUND, "faces": _faces(place, scene.ground)},
        "edges": _packed(np.round((scene.edges - low) / size * STEPS).astype("<u2")),
        "house": _packed(np.round((scene.house - low) / size * STEPS).astype("<u2")),
        "walls": _packed(np.round((walls - low) / size * STEPS).astype("<u2")),
        "paper": HOUSE,
        "heading": scene.heading,
        "elevation": ELEVATION,
        "ink": inks.INK,
        "earth": EARTH,
        "unit": figures.unit_sign(volumes.ledger.length_unit),
    }


def as_script_data(data: dict[str, Json]) -> str:
    """JSON that can stand in a script element: no markup can be made from any text in it."""
    text = json.dumps(data, ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    for sign in "<>&":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text


def row_words(volumes: Volumes, scene: Scene) -> list[tuple[str, str]]:
    """The name and the bank volume of each body, as printed."""
    ledger = volumes.ledger
    unit = figures.unit_sign(ledger.volume_unit)
    bank = {("wall", row.wall): row.quantity.bank for row in ledger.walls}
    bank |= {(row.kind, row.name): row.quantity.bank for row in ledger.pits}
    tags = row_tags(volumes, scene)
    words = []
    for body, tag in zip(scene.bodies, tags, strict=True):
        figure = bank.get((body.kind, body.name))
        said = "" if figure is None else f"{figures.volume(figure)} {unit}"
        words.append((tag, said))
    return words


def row_tags(volumes: Volumes, scene: Scene) -> list[str]:
    """Each body's name, short enough for a picture: walls told apart, as on the plan."""
    walls = [row.wall for row in volumes.ledger.walls]
    tags = dict(zip(walls, told_apart(walls, LONGEST_NAME), strict=True))
    return [
        tags[body.name]
        if body.kind == "wall" and body.name in tags
        else shortened(plain(body.name), LONGEST_NAME)
        for body in scene.bodies
    ]


def _faces(place: IntArray, faces: IntArray) -> str:
    """The faces by the places left after rounding; those that have become a line are left out."""
    own = place[faces].reshape(-1, 3)
    a, b, c = own.T
    return _packed(own[(a != b) & (b != c) & (c != a)].astype("<u4"))


def _packed(values: IntArray | FloatArray) -> str:
    return b64encode(np.ascontiguousarray(values).tobytes()).decode("ascii")
