"""A statement as canonical JSON, and the hash that binds it to the one before and to its inputs."""

import hashlib
import json
from dataclasses import asdict, replace
from decimal import Decimal
from typing import Any

from terrain.billing.record import InputKept, Line, Statement

FIRST = "0" * 64
"""What stands for the hash of the statement before the first."""

_MONEY = (
    "quantity", "plus_minus_95", "previous", "this_period", "price", "amount", "amount_to_date",
    "subtotal", "tax_rate", "tax", "retainage_rate", "retainage", "total", "total_to_date",
)  # fmt: skip


def canonical(statement: Statement) -> str:
    """All of a statement but its own hash, as text in which equal statements are equal."""
    told = asdict(statement)
    del told["hash"], told["is_draft"]
    return json.dumps(told, sort_keys=True, ensure_ascii=True, separators=(",", ":"), default=str)


def bound(statement: Statement, previous_hash: str) -> Statement:
    """The statement bound to the one before: issued, with its hash."""
    issued = replace(statement, is_draft=False, previous_hash=previous_hash, hash="")
    return replace(issued, hash=hash_of(issued))


def hash_of(statement: Statement) -> str:
    """The SHA-256 of all of a statement but the hash itself."""
    return hashlib.sha256(canonical(statement).encode()).hexdigest()


def read_canonical(text: str, own_hash: str) -> Statement:
    """The statement in canonical text. Raises ValueError, KeyError or TypeError if it is none."""
    told: dict[str, Any] = json.loads(text)
    lines = tuple(Line(**_decimals(line)) for line in told.pop("lines"))
    inputs = tuple(InputKept(**one) for one in told.pop("inputs"))
    notes = tuple(told.pop("notes"))
    return Statement(
        **_decimals(told), lines=lines, inputs=inputs, notes=notes, is_draft=False, hash=own_hash
    )


def _decimals(told: dict[str, Any]) -> dict[str, Any]:
    return {
        key: Decimal(value) if key in _MONEY and value is not None else value
        for key, value in told.items()
    }
