"""Text as a survey file has it: its encoding, its lines and their fields."""

import csv
import re

from terrain.base.errors import Fault, SurveyError
from terrain.survey.files import true_content

HEAD_BYTES = 1 << 18
BLANKS = " \t"
_ODD = bytes(sign for sign in range(32) if sign not in b"\t\n\r\x0c\x1a")
LINE_END = re.compile(r"\r\n|\n|\r")


def as_utf8(name: str, data: bytes) -> bytes:
    """The text as UTF-8 without a byte-order mark; UTF-8, UTF-16 and Latin-1 are told apart.

    Errors: `SurveyError` for a file that is no text.
    """
    what = true_content(data[:16])
    if what is not None:
        raise SurveyError(Fault(file=name, line=1, message=f"this is no text but {what}."))
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        try:
            data = data.decode("utf-16").encode("utf-8")
        except UnicodeError as error:
            raise SurveyError(
                Fault(file=name, line=1, message="starts like UTF-16 text but is damaged.")
            ) from error
    data = data.removeprefix(b"\xef\xbb\xbf")
    _check_is_text(name, data)
    if data.isascii():
        return data
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("latin-1").encode("utf-8")
    return data


def _check_is_text(name: str, data: bytes) -> None:
    at = data.find(b"\0")
    head = data[:HEAD_BYTES]
    odd = len(head) - len(head.translate(None, delete=_ODD))
    if at < 0 and odd * 200 <= len(head):
        return
    line = 1 + data.count(b"\n", 0, at if at >= 0 else 0)
    raise SurveyError(
        Fault(file=name, line=line, message="this is no text: it holds bytes no text has.")
    )


def printed(text: str, most: int = 80) -> str:
    """Words of a file as a message may show them: cut short, nothing that moves a cursor."""
    shown = "".join(c if c.isprintable() else "?" for c in text[:most])
    return shown if len(text) <= most else shown + "..."


def is_comment(line: str) -> bool:
    """Whether a line says nothing of shots: `#` or `//` first."""
    return line.lstrip(BLANKS).startswith(("#", "//"))


def is_blank(line: str) -> bool:
    """Whether a line is empty; an end-of-file sign counts as nothing."""
    return not line.strip(" \t\x0c\x1a")


def split(line: str, delimiter: str, at_most: int = 0) -> list[str]:
    """The fields of a line without the blanks about them.

    Runs of blanks as a delimiter leave what follows field `at_most` in that field.

    Errors: `csv.Error` for quotes that don't close.
    """
    if '"' in line:
        if not delimiter:
            line = line.strip(BLANKS).replace("\t", " ")
        reader = csv.reader([line], delimiter=delimiter or " ", skipinitialspace=True, strict=True)
        return [field.strip(BLANKS) for field in next(reader)]
    if delimiter:
        return [field.strip(BLANKS) for field in line.split(delimiter)]
    return line.split(None, at_most - 1) if at_most else line.split()
