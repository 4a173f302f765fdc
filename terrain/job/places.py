"""Where each key of a TOML file stands: key path to line and column, from 1.

tomllib says nothing of places once a file is read. This scanner runs only over text that tomllib
has accepted, so it follows the shape of TOML and checks nothing.
"""

import re
from bisect import bisect_right
from collections.abc import Iterator
from typing import TypeAlias

KeyPath: TypeAlias = tuple[str | int, ...]
Place: TypeAlias = tuple[int, int]

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_SCALAR = re.compile(r"[^,\]}#\n]*")
_LONG_BASIC = re.compile(r'"""(?:\\.|[^\\])*?"{3,5}', re.DOTALL)
_LONG_LITERAL = re.compile(r"'''.*?'{3,5}", re.DOTALL)
_BASIC = re.compile(r'"((?:\\.|[^"\\\n])*)"')
_LITERAL = re.compile(r"'([^'\n]*)'")


class Scanner:
    """One pass over a TOML text; `offsets` fills with where each key path begins."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.offsets: dict[KeyPath, int] = {}
        self.arrays: dict[KeyPath, int] = {}

    def skip(self, pattern: re.Pattern[str]) -> str:
        """What `pattern` matches here, stepping past it; nothing if it doesn't."""
        match = pattern.match(self.text, self.at)
        if match is None:
            return ""
        self.at = match.end()
        return match.group()

    def here(self, text: str) -> bool:
        """Whether `text` stands at the current place."""
        return self.text.startswith(text, self.at)

    def step(self, text: str) -> bool:
        """Step past `text` if it stands here."""
        if not self.here(text):
            return False
        self.at += len(text)
        return True

    def key(self) -> tuple[str, ...]:
        """A key, dotted or not, as its parts."""
        parts = []
        while self.at < len(self.text):
            self.skip(_SPACE)
            quoted = _BASIC.match(self.text, self.at) or _LITERAL.match(self.text, self.at)
            if quoted is not None:
                self.at = quoted.end()
                parts.append(quoted.group(1))
            else:
                parts.append(self.skip(_BARE))
            self.skip(_SPACE)
            if not self.step("."):
                break
        return tuple(parts)

    def value(self, path: KeyPath) -> None:
        """Step past a value, noting what stands inside it."""
        self.skip(_SPACE)
        if self.step("["):
            for index in self._items("]"):
                self.note((*path, index), self.at)
                self.value((*path, index))
        elif self.step("{"):
            for _ in self._items("}"):
                self.pair(path)
        elif not any(self.skip(p) for p in (_LONG_BASIC, _LONG_LITERAL, _BASIC, _LITERAL)):
            self.skip(_SCALAR)

    def _items(self, end: str) -> Iterator[int]:
        index = 0
        self.skip(_BLANK)
        while self.at < len(self.text) and not self.step(end):
            yield index
            index += 1
            self.skip(_BLANK)
            self.step(",")
            self.skip(_BLANK)

    def pair(self, table: KeyPath) -> None:
        """A `key = value` of a table."""
        start = self.at
        path = table
        for part in self.key():
            path = (*path, part)
            self.note(path, start)
        self.step("=")
        self.value(path)

    def header(self) -> KeyPath:
        """A `[table]` or `[[table]]` header; returns the path of the table it opens."""
        start = self.at
        many = self.step("[[")
        if not many:
            self.step("[")
        path: KeyPath = ()
        names = self.key()
        for depth, name in enumerate(names):
            path = (*path, name)
            self.note(path, start)
            last = depth == len(names) - 1
            if many and last:
                self.arrays[path] = self.arrays.get(path, 0) + 1
            if path in self.arrays:
                path = (*path, self.arrays[path] - 1)
        self.offsets[path] = start
        self.step("]]" if many else "]")
        return path

    def note(self, path: KeyPath, start: int) -> None:
        """Keep the first place at which a path is seen."""
        self.offsets.setdefault(path, start)


def places(text: str) -> dict[KeyPath, Place]:
    """Line and column, from 1, of every key and list entry of a valid TOML text."""
    scanner = Scanner(text)
    table: KeyPath = ()
    scanner.skip(_BLANK)
    while scanner.at < len(text):
        before = scanner.at
        if scanner.here("["):
            table = scanner.header()
        else:
            scanner.pair(table)
        scanner.skip(_BLANK)
        if scanner.at == before:
            break
    starts = [0, *(m.end() for m in re.finditer("\n", text))]
    found = {}
    for path, offset in scanner.offsets.items():
        line = bisect_right(starts, offset)
        found[path] = (line, offset - starts[line - 1] + 1)
    return found


def nearest_place(found: dict[KeyPath, Place], path: KeyPath) -> Place | None:
    """The place of a path, or of the closest table above it that stands in the file."""
    for end in range(len(path), 0, -1):
        if path[:end] in found:
            return found[path[:end]]
    return None
