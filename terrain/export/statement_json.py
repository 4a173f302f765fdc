"""A statement and a bid as JSON; money and quantities as texts, so that no cent is lost."""

import json
from dataclasses import asdict
from typing import Any

from terrain.billing.record import Bid, Statement
from terrain.job.reckoning import Reckoning


def statement_dict(statement: Statement) -> dict[str, Any]:
    """The statement under plain keys; decimals are texts."""
    told = _plain(asdict(statement))
    told["from"] = told.pop("from_")
    return dict(told)


def statement_json(statement: Statement, beside: Reckoning | None = None) -> str:
    """`statement_dict`, with what stands beside it, as text ending in a newline."""
    told = statement_dict(statement)
    if beside is not None:
        told["volume_unit"] = beside.unit
        told["reasons"] = None if beside.reasons is None else asdict(beside.reasons)
        told["tickets"] = None if beside.tickets is None else asdict(beside.tickets)
    return json.dumps(told, indent=2, ensure_ascii=False) + "\n"


def bid_json(bid: Bid) -> str:
    """The bid as text ending in a newline; decimals are texts, hours numbers."""
    told = _plain(asdict(bid))
    told["from"] = told.pop("from_")
    return json.dumps(told, indent=2, ensure_ascii=False) + "\n"


def _plain(value: Any) -> Any:
    """Dataclasses' dictionaries with every decimal as text."""
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(one) for one in value]
    return value if value is None or isinstance(value, (str, int, float)) else str(value)
