"""The doubts of a dig's rows and parts, from what shots weigh in each."""

from dataclasses import dataclass

from terrain.ledger.between import between_shots
from terrain.ledger.doubt import Doubt, Terms, doubt_of
from terrain.ledger.ground import Ground
from terrain.ledger.hats import hats_between
from terrain.ledger.weights import Weights, total_of, weights_of
from terrain.pit.dig import PARTS, Dig
from terrain.surface.patches import labelled


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


def dig_weights(cut: Ground, dig: Dig) -> dict[int, Weights]:
    """The weights of a dig's volumes by label, from the ground that it cuts into."""
    found: dict[int, list[Weights]] = {}

    def book(by_label: dict[int, Weights]) -> None:
        for label, weights in by_label.items():
            found.setdefault(label, []).append(weights)

    book(weights_of(hats_between(cut, dig.main, "above")))
    for step in dig.taken:
        # the faces of `before` are the first of `after`; they are taken off under its labels
        before = labelled(step.before, step.after.label[: len(step.before)])
        book(weights_of(hats_between(cut, step.after, "above")))
        book(weights_of(hats_between(cut, before, "above"), -1.0))
    return {label: total_of(every) for label, every in found.items()}


def doubt_terms(ground: Ground, whole: Weights) -> Terms:
    """What doubts of the ground's volumes rest on; `whole` are the weights of all of the cut."""
    return Terms(
        errors=ground.errors,
        plan=ground.points[:, :2],
        between=between_shots(ground, whole.spots),
    )


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
