"""The doubts of a dig's rows and parts, from what shots weigh in each."""

from dataclasses import dataclass

from terrain.ledger.doubt import Doubt, Terms, doubt_of
from terrain.ledger.weights import Weights, total_of
from terrain.pit.dig import PARTS


@dataclass(frozen=True, slots=True, kw_only=True)
class RowDoubts:
    """Doubts in cubic length units, and the weights that they and those of any sum come from.

    Args:
        terms: what `doubt_of` needs beside weights.
        total_weights, total: of all rows together.
        row_weights, rows: by row, walls then extras.
        part_weights, parts: by row, then by part of PARTS.
    """

    terms: Terms
    total_weights: Weights
    total: Doubt
    row_weights: tuple[Weights, ...]
    rows: tuple[Doubt, ...]
    part_weights: tuple[tuple[Weights, ...], ...]
    parts: tuple[tuple[Doubt, ...], ...]


def row_doubts(by_label: dict[int, Weights], rows: int, terms: Terms) -> RowDoubts:
    """The doubts of so many rows from weights by label, `row * 4 + part`."""
    none = Weights.nothing()
    parts = tuple(
        tuple(by_label.get(row * len(PARTS) + part, none) for part in range(len(PARTS)))
        for row in range(rows)
    )
    row_weights = tuple(total_of(list(own)) for own in parts)
    total = total_of(list(row_weights))
    return RowDoubts(
        terms=terms,
        total_weights=total,
        total=doubt_of(total, terms),
        row_weights=row_weights,
        rows=tuple(doubt_of(weights, terms) for weights in row_weights),
        part_weights=parts,
        parts=tuple(tuple(doubt_of(weights, terms) for weights in own) for own in parts),
    )
