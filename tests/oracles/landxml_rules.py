"""What LandXML-1.2.xsd asks of the elements that surfaces need, and whether a file keeps to it.

Taken from the schema itself, target namespace http://www.landxml.org/schema/LandXML-1.2, version
1.2, "Date Posted: 7/29/2008": which children an element has, in which order and how many; which
attributes it must have and may have; which values. Elements that surfaces do without are left out,
so a file that passes is valid but not every valid file passes.
"""

import re
import xml.etree.ElementTree as ET
from dataclasses import dataclass, field

SPACE = "{http://www.landxml.org/schema/LandXML-1.2}"
SCHEMA_INSTANCE = "{http://www.w3.org/2001/XMLSchema-instance}"
MANY = 10**9

ANY = re.compile(r"(?s).*")
DOUBLE = r"(?:[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?|INF|-INF|NaN)"
NUMBER = re.compile(rf"\s*{DOUBLE}\s*")
DATE = re.compile(r"-?\d{4,}-\d\d-\d\d(Z|[+-]\d\d:\d\d)?")
TIME = re.compile(r"\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)?")
BOOLEAN = re.compile("true|false|0|1")
POSITIVE = re.compile(r"\+?0*[1-9]\d*")
INTEGERS = re.compile(r"\s*([+-]?\d+\s+)*[+-]?\d+\s*")


def one_of(*values: str) -> re.Pattern[str]:
    return re.compile("|".join(map(re.escape, values)))


STATE = one_of("abandoned", "destroyed", "existing", "proposed")
ANGLE = one_of("radians", "grads", "decimal degrees", "decimal dd.mm.ss")
ELEVATION = one_of("meter", "kilometer", "feet", "miles")


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """Of one element: children in order with least and most, or in any order; attributes; text.

    `choice` says that the children may come in any order, one of them at least.
    """

    children: dict[str, tuple[int, int]] = field(default_factory=dict)
    choice: bool = False
    must: dict[str, re.Pattern[str]] = field(default_factory=dict)
    may: dict[str, re.Pattern[str]] = field(default_factory=dict)
    text: re.Pattern[str] | None = None


RULES = {
    "LandXML": Rule(
        children={
            "Units": (0, MANY), "CoordinateSystem": (0, MANY), "Project": (0, MANY),
            "Application": (0, MANY), "Surfaces": (0, MANY),
        },
        choice=True,
        must={"date": DATE, "time": TIME, "version": ANY},
        may={"language": ANY, "readOnly": BOOLEAN, "LandXMLId": POSITIVE, "crc": INTEGERS},
    ),
    "Units": Rule(children={"Metric": (0, 1), "Imperial": (0, 1)}, choice=True),
    "Metric": Rule(
        must={
            "areaUnit": one_of("hectare", "squareMeter", "squareMillimeter", "squareCentimeter"),
            "linearUnit": one_of("millimeter", "centimeter", "meter", "kilometer"),
            "volumeUnit": one_of("cubicMeter", "liter", "hectareMeter"),
            "temperatureUnit": one_of("celsius", "kelvin"),
            "pressureUnit": one_of("HPA", "milliBars", "mmHG", "millimeterHG"),
        },
        may={"angularUnit": ANGLE, "directionUnit": ANGLE, "elevationUnit": ELEVATION},
    ),
    "Imperial": Rule(
        must={
            "areaUnit": one_of("acre", "squareFoot", "squareInch", "squareMiles"),
            "linearUnit": one_of("foot", "USSurveyFoot", "inch", "mile"),
            "volumeUnit": one_of(
                "US_gallon", "IMP_gallon", "cubicInch", "cubicFeet", "cubicYard", "acreFeet"
            ),
            "temperatureUnit": one_of("fahrenheit", "kelvin"),
            "pressureUnit": one_of("inchHG", "inHG"),
        },
        may={"angularUnit": ANGLE, "directionUnit": ANGLE, "elevationUnit": ELEVATION},
    ),
    "CoordinateSystem": Rule(
        may={"desc": ANY, "name": ANY, "epsgCode": ANY, "ogcWktCode": ANY, "verticalDatum": ANY}
    ),
    "Project": Rule(must={"name": ANY}, may={"desc": ANY, "state": STATE}),
    "Application": Rule(must={"name": ANY}, may={"desc": ANY, "version": ANY}),
    "Surfaces": Rule(children={"Surface": (1, MANY)}, may={"desc": ANY, "name": ANY}),
    "Surface": Rule(
        children={"Definition": (0, 1)},
        must={"name": ANY},
        may={"desc": ANY, "OID": ANY, "state": STATE},
    ),
    "Definition": Rule(
        children={"Pnts": (1, 1), "Faces": (1, MANY)},
        must={"surfType": one_of("TIN", "grid")},
        may=dict.fromkeys(("area2DSurf", "area3DSurf", "elevMax", "elevMin"), NUMBER),
    ),
    "Pnts": Rule(children={"P": (3, MANY)}),
    "P": Rule(
        must={"id": POSITIVE},
        text=re.compile(rf"\s*{DOUBLE}\s+{DOUBLE}\s+{DOUBLE}\s*"),
    ),
    "Faces": Rule(children={"F": (1, MANY)}, may={"desc": ANY, "name": ANY, "state": STATE}),
    "F": Rule(may={"i": INTEGERS, "n": INTEGERS, "b": POSITIVE}, text=INTEGERS),
}  # fmt: skip


def breaches(root: ET.Element) -> list[str]:
    """What in the file goes against the schema, in plain words; empty where nothing does."""
    found = [] if root.tag == f"{SPACE}LandXML" else [f"the root is {root.tag}"]
    for element in root.iter():
        local = element.tag.removeprefix(SPACE)
        rule = RULES.get(local)
        if rule is None:
            found.append(f"{local} is no element of a surface")
            continue
        found += [f"{local}: {word}" for word in _of_attributes(element, rule)]
        found += [f"{local}: {word}" for word in _of_children(element, rule)]
    names = [s.get("name") for s in root.iter(f"{SPACE}Surface")]
    if len(set(names)) < len(names):
        found.append("two surfaces have one name")
    for definition in root.iter(f"{SPACE}Definition"):
        found += _of_points(definition)
    return found


def _of_attributes(element: ET.Element, rule: Rule) -> list[str]:
    known = rule.must | rule.may
    own = {k: v for k, v in element.attrib.items() if not k.startswith(SCHEMA_INSTANCE)}
    missing = [f"has no {name}" for name in rule.must if name not in own]
    unknown = [f"has {name}, which is not known" for name in own if name not in known]
    wrong = [
        f'has {name}="{value}"'
        for name, value in own.items()
        if name in known and not known[name].fullmatch(value)
    ]
    return missing + unknown + wrong


def _of_children(element: ET.Element, rule: Rule) -> list[str]:
    tags = [child.tag.removeprefix(SPACE) for child in element]
    found = [f"holds {tag}" for tag in set(tags) if tag not in rule.children]
    for tag, (least, most) in rule.children.items():
        if not least <= tags.count(tag) <= most:
            found.append(f"holds {tags.count(tag)} {tag}")
    if rule.choice:
        found += [] if tags else ["is empty"]
    else:
        order = [list(rule.children).index(tag) for tag in tags if tag in rule.children]
        found += [] if order == sorted(order) else ["has its children in another order"]
    if rule.text is not None and not rule.text.fullmatch(element.text or ""):
        found.append(f"says {element.text!r}")
    if rule.text is None and (element.text or "").strip():
        found.append("holds text")
    return found


def _of_points(definition: ET.Element) -> list[str]:
    """Ids are unique in `Pnts`; faces of a TIN name three of them."""
    identities = [int(p.get("id", "0")) for p in definition.iter(f"{SPACE}P")]
    known = set(identities)
    found = [] if len(known) == len(identities) else ["an id stands twice"]
    for face in definition.iter(f"{SPACE}F"):
        corners = [int(v) for v in (face.text or "").split()]
        if len(corners) != 3 or not known >= set(corners):
            found.append(f"a face names {corners}")
    return found
