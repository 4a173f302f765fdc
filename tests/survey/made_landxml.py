"""LandXML made by hand for tests: small enough to read, or from arrays."""

from collections.abc import Iterable, Sequence

FEET = '<Imperial linearUnit="foot"/>'
SPACE = "http://www.landxml.org/schema/LandXML-1.2"

# A square of 40 by 60 on a plane, northing first; its ids are in no order and have gaps.
SQUARE = [
    (7, 200.0, 100.0, 50.0),
    (3, 200.0, 140.0, 52.0),
    (90, 260.0, 140.0, 55.0),
    (11, 260.0, 100.0, 53.0),
]
FACES = [(7, 3, 90), (7, 90, 11)]


def surface(
    points: Iterable[tuple[object, ...]] = SQUARE,
    faces: Iterable[Sequence[object]] = FACES,
    name: str = "EG",
    definition: str = 'surfType="TIN"',
) -> str:
    """A Surface element, a point or face a line; a face that begins with a text has it as i."""
    rows = [f'<P id="{p[0]}">{" ".join(map(str, p[1:]))}</P>' for p in points]
    marked = [
        f'<F i="{f[0]}">{" ".join(map(str, f[1:]))}</F>'
        if isinstance(f[0], str)
        else f"<F>{' '.join(map(str, f))}</F>"
        for f in faces
    ]
    lines = [f'<Surface name="{name}"><Definition {definition}><Pnts>', *rows]
    return "\n".join([*lines, "</Pnts><Faces>", *marked, "</Faces></Definition></Surface>\n"])


def landxml(
    *surfaces: str, units: str = FEET, space: str = SPACE, more: str = "", head: str = ""
) -> str:
    """A whole file; the first P of its first surface stands in line 4 if nothing is added."""
    unit = f"<Units>{units}</Units>" if units else ""
    declared = f' xmlns="{space}"' if space else ""
    body = "".join(surfaces or (surface(),))
    return (
        f'<?xml version="1.0"?>\n{head}<LandXML{declared} version="1.2">{unit}{more}'
        f"<Surfaces>\n{body}</Surfaces>\n</LandXML>\n"
    )
