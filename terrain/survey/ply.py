"""Whether a PLY file is whole: its header read, its length held against what it promises."""

from dataclasses import dataclass

from terrain.base.errors import Fault, SurveyError
from terrain.survey.text import printed

_FORMATS = ("ascii", "binary_little_endian", "binary_big_endian")
_LONGEST_HEADER = 1 << 16
_SIZES = {
    "char": 1, "uchar": 1, "int8": 1, "uint8": 1, "short": 2, "ushort": 2, "int16": 2,
    "uint16": 2, "int": 4, "uint": 4, "int32": 4, "uint32": 4, "float": 4, "float32": 4,
    "double": 8, "float64": 8,
}  # fmt: skip


@dataclass(slots=True, kw_only=True)
class _Element:
    name: str
    count: int
    least_bytes: int = 0


def check_ply(name: str, data: bytes) -> bool:
    """Whether the file has faces, once it is seen to hold all that its header promises.

    Errors: `SurveyError` for a header that can't be understood, a file cut off, and one without
    points.
    """
    end = data.find(b"end_header", 0, _LONGEST_HEADER)
    body = data.find(b"\n", end) + 1
    if not data.startswith((b"ply\n", b"ply\r")) or end < 0 or body == 0:
        raise SurveyError(
            Fault(file=name, line=1, message="is no PLY mesh, or is cut off within its header.")
        )
    lines = data[:end].decode("latin-1").splitlines()
    form, elements = _header(name, lines)
    counts = {element.name: element.count for element in elements}
    if not counts.get("vertex"):
        raise SurveyError(Fault(file=name, message="holds no points."))
    held = data[body:]
    if form == "ascii":
        there = sum(1 for line in held.splitlines() if line.strip())
        due = sum(element.count for element in elements)
        if there < due:
            raise _cut_off(name, len(lines) + 1 + there, f"{there:,} lines of {due:,} are there")
    elif len(held) < (due := sum(e.count * e.least_bytes for e in elements)):
        raise _cut_off(name, None, f"{len(held):,} bytes of at least {due:,} are there")
    return bool(counts.get("face"))


def _cut_off(name: str, line: int | None, how: str) -> SurveyError:
    return SurveyError(
        Fault(file=name, line=line, message=f"is cut off: {how}. Copy or export it again.")
    )


def _header(name: str, lines: list[str]) -> tuple[str, list[_Element]]:
    """The format, and each element with its count and the least bytes it takes."""
    form, elements = "", list[_Element]()
    for number, line in enumerate(lines[1:], 2):
        match line.split():
            case [] | ["comment", *_] | ["obj_info", *_]:
                continue
            case ["format", known, "1.0"] if known in _FORMATS:
                form = known
            case ["element", what, count] if count.isascii() and count.isdigit():
                elements.append(_Element(name=what, count=int(count[:12])))
            case ["property", "list", size, entry, _] if elements and {size, entry} <= set(_SIZES):
                corners = 3 if elements[-1].name == "face" else 0
                elements[-1].least_bytes += _SIZES[size] + corners * _SIZES[entry]
            case ["property", size, _] if elements and size in _SIZES:
                elements[-1].least_bytes += _SIZES[size]
            case _:
                said = f'"{printed(line)}" is no line of a PLY header.'
                raise SurveyError(Fault(file=name, line=number, message=said))
    if not form:
        raise SurveyError(Fault(file=name, line=1, message="its header names no known format."))
    return form, elements
