"""Which figures of an answer stand in the summary of a batch, question by question."""

from typing import Any, Final

FIGURES: Final[dict[str, dict[str, str]]] = {
    "check": {},
    "volumes": {
        "bank": "total.bank",
        "bank_plus_minus_95": "total.bank_plus_minus_95",
        "loose": "total.loose",
        "compacted": "total.compacted",
        "loads": "total.loads",
        "deepest_cut": "deepest_cut",
        "daylight_area": "daylight_area",
    },
    "grade": {
        "cut": "lot.cut",
        "fill": "lot.fill",
        "haul_bank": "lot.haul_bank",
        "import_bank": "lot.import_bank",
        "loads": "lot.loads",
    },
    "stake": {},
    "plan": {
        "bank": "total.bank",
        "hours_low": "total.hours.low",
        "hours_high": "total.hours.high",
        "haul_loose": "total.haul_loose",
        "loads": "total.loads",
        "rehandled_loose": "total.rehandled_loose",
    },
    "verify": {
        "verdict": "verdict",
        "within": "floor.within",
        "high_volume": "floor.high_volume",
        "low_volume": "floor.low_volume",
        "undercut": "undercut",
    },
    "bid": {
        "total": "total",
        "total_low": "total_low",
        "total_high": "total_high",
        "currency": "currency",
        "loads": "loads",
    },
    "statement": {
        "total": "total",
        "total_to_date": "total_to_date",
        "currency": "currency",
        "number": "number",
        "period": "period",
        "end": "end",
    },
}
"""Every question a batch can ask, and its figures: name in the summary, key path in the JSON.

A statement is a draft: a batch issues none.
"""


def figures_of(question: str, answer: dict[str, Any]) -> dict[str, float | str | None]:
    """The figures of one answer by their names in the summary; None for one it does not have."""
    return {name: _at(answer, path) for name, path in FIGURES[question].items()}


def _at(answer: Any, path: str) -> float | str | None:
    for key in path.split("."):
        answer = answer.get(key) if isinstance(answer, dict) else None
    return answer if isinstance(answer, (int, float, str)) else None
