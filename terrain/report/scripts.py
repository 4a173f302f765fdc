"""The scripts that the page carries, and the policy that lets only them run."""

from base64 import b64encode
from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from importlib.resources import files


@dataclass(frozen=True, slots=True, kw_only=True)
class Scripts:
    """The text of each script element in order; `policy` is the content security policy."""

    texts: tuple[str, ...]
    policy: str


NO_SCRIPTS = Scripts(
    texts=(), policy="default-src 'none'; style-src 'unsafe-inline'; img-src data:"
)


@cache
def viewer_scripts() -> Scripts:
    """The WebGL library and the viewer."""
    return _allowed(("vendor", "three.min.js"), ("templates", "viewer.js"))


@cache
def card_scripts() -> Scripts:
    """The operator's card: its little arithmetic, and what puts that on the page."""
    return _allowed(("templates", "card_sums.js"), ("templates", "card.js"))


@cache
def stepper_scripts() -> Scripts:
    """The dig plan's page: what shows one pass after the other."""
    return _allowed(("templates", "stepper.js"))


def _allowed(*paths: tuple[str, str]) -> Scripts:
    """Scripts of the package; the policy names them by their SHA-256 and nothing else.

    So the page may fetch nothing, and a script that some text might smuggle in is not run.
    """
    package = files("terrain.report")
    texts = tuple(package.joinpath(*path).read_text(encoding="utf-8") for path in paths)
    marks = [b64encode(sha256(text.encode("utf-8")).digest()).decode("ascii") for text in texts]
    allowed = " ".join(f"'sha256-{mark}'" for mark in marks)
    return Scripts(texts=texts, policy=f"{NO_SCRIPTS.policy}; script-src {allowed}")
