"""Errors by meaning; every message names the value, the place and what would be accepted."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from genetics.record_names import RecordName


class GeneticsError(Exception):
    """Any error that this package raises on purpose."""


class MalformedCase(GeneticsError, ValueError):
    """A record contradicts the contract; `place` reads like `animals[3].founder.sg`."""

    def __init__(self, place: str, message: str) -> None:
        super().__init__(f"{place}: {message}" if place else message)
        self.place = place


class ImpossibleEvidence(GeneticsError, ValueError):
    """The evidence cannot all be true; `conflict` names a smallest set of clashing records."""

    def __init__(self, message: str, conflict: tuple[RecordName, ...] = ()) -> None:
        super().__init__(message)
        self.conflict = conflict


class BeyondExact(GeneticsError):
    """Exact inference would need more table cells than allowed; says so before starting."""

    def __init__(self, cells: float, limit: float, message: str = "") -> None:
        super().__init__(
            message
            or f"exact inference needs about {cells:.3g} table cells, "
            f"more than the limit of {limit:.3g}"
        )
        self.cells = cells
        self.limit = limit
