"""Pictures in a store without folders, exchanged for those of a copy one by one.

What a change will do is written down before it begins. So it can be finished or taken back
afterwards, as often as that is begun: each step looks at what is there.
"""

from dataclasses import asdict, dataclass
from hashlib import file_digest
from pathlib import Path
from typing import Any, Self

from keeper.serving import files

# Where pictures wait whose name another one has in the copy.
_ASIDE = "before-a-restore/"


@dataclass(frozen=True)
class Change:
    """What differs between the pictures that are there and those of a copy, by their names.

    Attributes:
        added: only the copy has them.
        changed: the copy has others of the same name.
        gone: only the store has them.
    """

    added: tuple[str, ...]
    changed: tuple[str, ...]
    gone: tuple[str, ...]

    @classmethod
    def of(cls, noted: dict[str, Any]) -> Self:
        """Return what was noted."""
        return cls(**{name: tuple(names) for name, names in noted.items()})

    def noted(self) -> dict[str, Any]:
        """Return it as JSON has it."""
        return asdict(self)

    def make(self, fresh: Path) -> None:
        """Put the copy's pictures where they belong; none is deleted yet. Raises `OSError`."""
        for name in self.changed:
            files.move(name, _ASIDE + name)
        for name in (*self.changed, *self.added):
            with (fresh / name).open("rb") as source:
                files.put(name, source)

    def finish(self) -> None:
        """Take away what only the book before had. Raises `OSError`."""
        for name in (*self.gone, *(_ASIDE + one for one in self.changed)):
            files.delete(name)

    def take_back(self) -> None:
        """Let everything be as it was. Raises `OSError`."""
        for name in self.changed:
            # Where nothing waits it was never moved, or is back already.
            if files.is_there(_ASIDE + name):
                files.move(_ASIDE + name, name)
        for name in self.added:
            files.delete(name)


def planned(fresh: Path) -> Change:
    """Compare a folder of pictures with those that are there. Raises `OSError`."""
    wanted = {
        path.relative_to(fresh).as_posix(): path for path in fresh.rglob("*") if path.is_file()
    }
    there = set(files.names())
    both = sorted(wanted.keys() & there)
    changed = [name for name in both if files.digest(name) != _digest(wanted[name])]
    added, gone = sorted(wanted.keys() - there), sorted(there - wanted.keys())
    return Change(tuple(added), tuple(changed), tuple(gone))


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return file_digest(file, "sha256").hexdigest()
