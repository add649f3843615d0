"""What a pedigree drawing is made of, before anything has a place."""

from dataclasses import dataclass
from functools import cached_property


@dataclass(frozen=True)
class Union:
    """One or two parents of a family, by key; one: its young are of it alone."""

    parents: tuple[str, ...]


@dataclass(frozen=True)
class Family:
    """A sibship, oldest first, and its parents: several unions where it may be of either."""

    unions: tuple[Union, ...]
    young: tuple[str, ...]


@dataclass(frozen=True)
class Pedigree:
    """Symbols by key and the families between them; a key is young in one family at most.

    The order of both matters only where nothing else decides.
    """

    symbols: tuple[str, ...]
    families: tuple[Family, ...]

    @cached_property
    def born(self) -> dict[str, int]:
        """Symbol → index of the family it is young in."""
        return {key: at for at, one in enumerate(self.families) for key in one.young}

    @cached_property
    def parents(self) -> dict[str, frozenset[str]]:
        """Symbol → everyone who is or may be its parent."""
        found: dict[str, frozenset[str]] = {}
        for one in self.families:
            all_of = frozenset(key for union in one.unions for key in union.parents)
            found.update(dict.fromkeys(one.young, all_of))
        return found

    def related(self, union: Union) -> bool:
        """Whether two parents have an ancestor in common here, or one is the other's."""
        if len(union.parents) < 2:
            return False
        one, other = (self._with_ancestors(key) for key in union.parents)
        return bool(one & other)

    def _with_ancestors(self, key: str) -> set[str]:
        found: set[str] = set()
        waiting = {key}
        while waiting:
            found |= waiting
            waiting = {up for one in waiting for up in self.parents.get(one, ())} - found
        return found
