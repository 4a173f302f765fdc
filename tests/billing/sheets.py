"""A workbook read by its XML alone (ECMA-376): nothing of the library that wrote it."""

import io
import zipfile
from dataclasses import dataclass
from decimal import Decimal
from xml.etree import ElementTree

MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
LINK = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
BELONGS = "{http://schemas.openxmlformats.org/package/2006/relationships}Relationship"


@dataclass(frozen=True, slots=True)
class Cell:
    """A value, and whether the cell holds a formula and keeps a text from becoming one."""

    value: str | Decimal
    is_formula: bool
    is_quoted: bool


def read_book(content: bytes) -> dict[str, list[dict[str, Cell]]]:
    """Sheet by sheet, row by row, the cells that hold something by the letter of their column."""
    with zipfile.ZipFile(io.BytesIO(content)) as book:
        parts = {name: ElementTree.fromstring(book.read(name)) for name in book.namelist()
                 if name.endswith((".xml", ".rels"))}  # fmt: skip
    styles = parts["xl/styles.xml"].find(f"{MAIN}cellXfs")
    assert styles is not None
    quoted = [style.get("quotePrefix") == "1" for style in styles]
    links = {one.get("Id"): (one.get("Target") or "").lstrip("/")
             for one in parts["xl/_rels/workbook.xml.rels"].iter(BELONGS)}  # fmt: skip
    found = {}
    for sheet in parts["xl/workbook.xml"].iter(f"{MAIN}sheet"):
        target = links[sheet.get(LINK)]
        root = parts[target if target.startswith("xl/") else f"xl/{target}"]
        found[sheet.get("name") or ""] = [
            {
                "".join(c for c in cell.get("r", "") if c.isalpha()): Cell(
                    _value(cell),
                    cell.find(f"{MAIN}f") is not None,
                    quoted[int(cell.get("s", "0"))],
                )
                for cell in row
                if len(cell)
            }
            for row in root.iter(f"{MAIN}row")
        ]
    return found


def _value(cell: ElementTree.Element) -> str | Decimal:
    value = cell.find(f"{MAIN}v")
    text = "" if value is None else value.text or ""
    if cell.get("t") in (None, "n"):
        return Decimal(text)
    assert cell.get("t") == "inlineStr", "the workbook shares no texts"
    return "".join(t.text or "" for t in cell.iter(f"{MAIN}t"))
