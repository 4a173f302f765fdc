"""The quick reader of clean text, by columns; it gives up at the first doubt and says nothing."""

import re
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray
from pyarrow import compute, csv

from terrain.base.arrays import FloatArray, IntArray
from terrain.base.memory import keep_freed_memory
from terrain.survey.layout import Layout
from terrain.survey.rows import LARGEST, LONGEST_POINT_NAME, Table, index_names, number_columns

_BLOCK = 1 << 22
_LARGE = 1 << 23
_COMMENT = re.compile(rb"(?m)^[ \t]*(?:#|//)")


def read_quickly(layout: Layout, data: bytes) -> Table | None:
    """The rows of UTF-8 text, the same as `read_rows` gives, or None where that must look.

    Quotes, comments, blank lines, ragged rows and anything that is no finite number are left to
    the careful reader, so that a line number is the row's place and no rule stands in two places.
    """
    body = _clean_body(layout, data)
    if body is None:
        return None
    if len(body) > _LARGE:
        keep_freed_memory()
    source: Any = pa.BufferReader(body)
    try:
        table = csv.read_csv(
            source,
            read_options=csv.ReadOptions(
                column_names=[str(k) for k in range(len(layout.columns))], block_size=_BLOCK
            ),
            parse_options=csv.ParseOptions(
                delimiter=layout.delimiter or " ", quote_char=False, ignore_empty_lines=False
            ),
            convert_options=_conversions(layout),
            # Arrow's own pool takes a quarter of a second to fill for the first 1 M shots.
            memory_pool=pa.system_memory_pool(),
        )
    except pa.ArrowInvalid:
        return None
    point = layout.position("point")
    with ThreadPoolExecutor(max_workers=1) as worker:
        named = None if point is None else worker.submit(_point_names, table[str(point)])
        numbers = {name: _plain(table[str(k)]) for k, name in number_columns(layout)}
        names = None if named is None else named.result()
    # least and most rather than np.abs, which would make every column a second time
    if not all(v.min() >= -LARGEST and v.max() <= LARGEST for v in numbers.values()):
        return None
    if point is not None and names is None:
        return None
    return Table(
        numbers=numbers,
        row=np.arange(layout.first_line, layout.first_line + len(table), dtype=np.int32),
        point=names if names is not None and _any_named(names) else None,
        names={
            name: _indexed(table[str(layout.columns.index(name))])
            for name in ("code", "line")
            if name in layout.columns
        },
    )


def _clean_body(layout: Layout, data: bytes) -> bytes | memoryview | None:
    if any(data.find(sign, layout.first_byte) >= 0 for sign in (b'"', b"\x1a", b"\x0c")):
        return None
    # one sign is found many times quicker than signs are counted, or two of them together found
    if b"\r" in data and data.count(b"\r") != data.count(b"\r\n"):
        return None
    may_comment = b"#" in data or (b"/" in data and b"//" in data)
    if may_comment and _COMMENT.search(data, layout.first_byte):
        return None
    if layout.delimiter:
        return memoryview(data)[layout.first_byte :]
    body = data[layout.first_byte :].translate(bytes.maketrans(b"\t", b" "))
    while b"  " in body:
        body = body.replace(b"  ", b" ")
    return body.replace(b" \r", b"\r").replace(b" \n", b"\n").replace(b"\n ", b"\n").strip(b" ")


def _conversions(layout: Layout) -> csv.ConvertOptions:
    types: dict[str, pa.DataType] = {}
    for k, name in enumerate(layout.columns):
        if name in ("code", "line"):
            types[str(k)] = pa.dictionary(pa.int32(), pa.string())
        elif name == "point":
            types[str(k)] = pa.string()
        elif name != "skip":
            types[str(k)] = pa.float64()
    return csv.ConvertOptions(
        column_types=types,
        include_columns=list(types),
        null_values=[],
        decimal_point=layout.decimal,
    )


def _plain(column: Any) -> FloatArray:
    return np.concatenate([chunk.to_numpy() for chunk in column.chunks])


def _indexed(column: Any) -> tuple[IntArray, tuple[str, ...]]:
    whole = column.unify_dictionaries()
    ids = np.concatenate([chunk.indices.to_numpy() for chunk in whole.chunks])
    return index_names(ids, whole.chunk(0).dictionary.to_pylist())


def _point_names(column: Any) -> NDArray[np.bytes_] | None:
    width = max(compute.max(compute.binary_length(column)).as_py(), 1)
    if width > LONGEST_POINT_NAME:
        return None
    padded = compute.ascii_rpad(column, width, padding="\0")
    names = np.concatenate(
        [
            np.frombuffer(chunk.buffers()[2], f"S{width}", len(chunk), chunk.offset * width)
            for chunk in padded.chunks
            if len(chunk)
        ]
    )
    return np.strings.strip(names, b" \t") if _has_blanks(names) else names


def _any_named(names: NDArray[np.bytes_]) -> bool:
    return names.dtype.itemsize > 0 and bool(names.view(np.uint8).any())


def _has_blanks(names: NDArray[np.bytes_]) -> bool:
    signs = names.view(np.uint8)
    return bool(((signs == 32) | (signs == 9)).any())
