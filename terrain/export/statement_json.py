"""A statement and a bid as JSON; money and quantities as texts, so that no cent is lost."""

import json
from dataclasses import asdict
from typing import Any

from terrain.billing.record import Bid, Statement


def statement_dict(statement: Statement) -> dict[str, Any]:
    """The statement under plain keys; decimals are texts."""
    told = _plain(asdict(statement))
    told["from"] = told.pop("from_")
    return dict(told)


def statement_json(statement: Statement) -> str:
    """`statement_dict` as text ending in a newline."""
    return json.dumps(statement_dict(statement), indent=2, ensure_ascii=False) + "\n"


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
