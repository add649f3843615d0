"""Which kinds of work there are. A job's row names its kind: nothing else can be run by a row."""

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any, Protocol

from django.utils.module_loading import import_string

IMPORT, COPY, COMPARISON = "import", "copy", "comparison"


class Tell(Protocol):
    """How work tells what it does, how far it is, and what it has found so far."""

    def __call__(
        self, doing: str, done: int = 0, of: int = 0, found: dict[str, Any] | None = None
    ) -> None:
        """Tell it; of 0: nobody can tell how much there is."""


Work = Callable[[dict[str, Any], Tell], dict[str, Any]]
"""Does a job by what was given for it; returns what came of it, as JSON has it."""

# Nobody minds if these are cut short when the program ends; it waits for the others.
MAY_BE_CUT = frozenset({COMPARISON})
_WORK: Mapping[str, str] = MappingProxyType(
    {
        IMPORT: "keeper.domain.imports.running.work",
        COPY: "keeper.domain.backups.asked.work",
        COMPARISON: "keeper.domain.projects.comparing.work",
    }
)


def work_of(kind: str) -> Work:
    """Return what does a kind of work; raises `KeyError` where there is none of that name."""
    found: Work = import_string(_WORK[kind])
    return found
