"""The first that may have brought a gene to each of its carriers: who are those, for all at once.

A set of animals is a number here, with a bit for each: of ten thousand carriers most have theirs
in common with many, and sets are put together a family at a time, not an animal.
"""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from keeper.domain.inference.descent.known import Known

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


class Origins:
    """Of some carriers, by number, the first that may have brought what they carry.

    An animal is one of the first if no parent of it may carry it, or if it began with it.
    """

    def __init__(
        self, known: Known, carriers: "NDArray[np.int64]", began: "NDArray[np.int64]"
    ) -> None:
        import numpy as np

        self._known = known
        self._sets: list[int] = []
        self._place: dict[int, int] = {}
        self._first: list[int] = []
        # By number the place of its set; -1 of who is no carrier and, at the end, of nobody.
        self._of = np.full(len(known.animals) + 1, -1, dtype=np.int64)
        carries = np.zeros(len(self._of), dtype=bool)
        carries[carriers] = True
        starts = np.zeros(len(self._of), dtype=bool)
        starts[began] = True
        for generation in known.generations:
            here = generation[carries[generation]]
            if len(here):
                self._of[here] = self._of_generation(here, starts[here])

    def among(self, carriers: "NDArray[np.int64]") -> list[frozenset[int]]:
        """Return the different sets, of ids, that these carriers have."""
        return [frozenset(self._ids(bits)) for bits in self._bits(carriers)]

    def all_of(self, carriers: "NDArray[np.int64]") -> frozenset[int]:
        """Return everyone that is in a set of one of these carriers, by id."""
        return frozenset(self._ids(self._together(self._bits(carriers))))

    def number_of(self, carriers: "NDArray[np.int64]") -> int:
        """Return how many `all_of` them are."""
        return self._together(self._bits(carriers)).bit_count()

    def _of_generation(
        self, here: "NDArray[np.int64]", starts: "NDArray[np.bool_]"
    ) -> "NDArray[np.int64]":
        import numpy as np

        above = self._of[self._known.parents[here]]
        above[starts] = -1
        found: NDArray[np.int64] = above.max(axis=1)
        first = found < 0
        found[first] = [self._set(self._new(number)) for number in here[first].tolist()]
        mixed = np.flatnonzero(((above >= 0) & (above != found[:, None])).any(axis=1) & ~first)
        if len(mixed):
            kinds, kind = np.unique(np.sort(above[mixed], axis=1), axis=0, return_inverse=True)
            united = [self._set(self._together(self._told(row))) for row in kinds.tolist()]
            found[mixed] = np.array(united, dtype=np.int64)[kind.reshape(-1)]
        return found

    def _new(self, number: int) -> int:
        self._first.append(int(self._known.animals[number]))
        return 1 << (len(self._first) - 1)

    def _set(self, bits: int) -> int:
        place = self._place.setdefault(bits, len(self._sets))
        if place == len(self._sets):
            self._sets.append(bits)
        return place

    def _told(self, places: list[int]) -> list[int]:
        return [self._sets[place] for place in places if place >= 0]

    def _bits(self, carriers: "NDArray[np.int64]") -> list[int]:
        import numpy as np

        return self._told(np.unique(self._of[carriers]).tolist())

    @staticmethod
    def _together(sets: list[int]) -> int:
        found = 0
        for bits in sets:
            found |= bits
        return found

    def _ids(self, bits: int) -> Iterator[int]:
        while bits:
            least = bits & -bits
            yield self._first[least.bit_length() - 1]
            bits ^= least
