"""Whether figures mean what they say: `python -m tests.benchmarks.calibration --books 300`.

Books of which the truth is known (`tests.benchmarks.simulated`) are written through the app's rows;
what its standings say is compared with what the animals carry, bin by bin: of those said to carry
it with about p, about p do. The animals of a book depend on one another, so a bin's error is told
from the sums of its books. A figure must never be above its chance, and certainty must be true.
"""

import argparse
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from math import sqrt
from random import Random
from typing import TYPE_CHECKING

from tests.benchmarks.scratch import scratch_book

if TYPE_CHECKING:
    from tests.benchmarks.simulated import Simulated

_EDGES = (0.02, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98)


@dataclass
class Bins:
    """Figures and outcomes of one kind, by bin and book."""

    sums: dict[int, dict[int, tuple[int, float, int, float]]] = field(
        default_factory=lambda: defaultdict(dict)
    )

    def add(self, book: int, figure: float, *, true: bool) -> None:
        """Take in one figure."""
        place = sum(figure >= edge for edge in _EDGES)
        count, said, held, spread = self.sums[place].get(book, (0, 0.0, 0, 0.0))
        spread += figure * (1 - figure)
        self.sums[place][book] = (count + 1, said + figure, held + true, spread)

    def rows(self) -> Iterator[tuple[int, float, float, float, float]]:
        """Yield count, mean figure, share that held, standard error and z of each bin."""
        for _, books in sorted(self.sums.items()):
            count = sum(one[0] for one in books.values())
            said = sum(one[1] for one in books.values())
            held = sum(one[2] for one in books.values())
            between = sum((true - figure) ** 2 for _, figure, true, _ in books.values())
            # Animals of a book lean the same way; a bin of few books may hide even that.
            spread = sqrt(max(between, sum(one[3] for one in books.values())))
            z = (held - said) / spread if spread else 0.0
            yield count, said / count, held / count, spread / count, z


@dataclass
class Found:
    """What was compared over all books."""

    carries: Bins = field(default_factory=Bins)
    two: Bins = field(default_factory=Bins)
    lines: Bins = field(default_factory=Bins)
    sires: Bins = field(default_factory=Bins)
    certain: int = 0
    wrong: list[str] = field(default_factory=list)
    disputes: int = 0
    misrounded: int = 0


def main() -> None:
    """Write the books, compare, print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--books", type=int, default=300)
    asked.add_argument("--seed", type=int, default=1)
    options = asked.parse_args()
    with scratch_book():
        _print(_measured(options.books, options.seed))


def _measured(books: int, seed: int) -> Found:
    from django.db import transaction

    from keeper.domain import inference
    from keeper.domain.accounts.writes import create_owner
    from tests.benchmarks.simulated import Simulated

    inference.warm_up()
    owner = create_owner(name="owner", password="a plain long password")
    found = Found()
    for number in range(books):
        with transaction.atomic():
            book = Simulated(owner, Random(seed * 1_000_000 + number))
            book.write()
            _compare(found, number, book)
            transaction.set_rollback(True)
    return found


def _compare(found: Found, number: int, book: "Simulated") -> None:
    from keeper import models as m
    from keeper.domain import inference
    from keeper.domain.saying.figures import carrier_percent

    found.disputes += m.Dispute.objects.filter(closed=None).count()
    lines = {pk: set(m.Line.objects.filter(trait=pk).values_list("pk", flat=True))
             for pk in m.Trait.objects.values_list("pk", flat=True)}  # fmt: skip
    spoken = set()
    for one in m.Standing.objects.select_related("trait", "animal", "line"):
        genes = book.genes[one.animal_id]
        about = {one.line_id} if one.line_id else lines[one.trait_id]
        if not about:
            continue
        copies = [genes[pk] for pk in about if pk is not None]
        spoken |= {(one.animal_id, pk) for pk in about}
        _check(found, str(one), one.none, carries=any(copies))
        shown = carrier_percent(one)
        if shown.endswith(" %") and shown[:-2].isdigit():
            told = int(shown[:-2]) / 100
            # What is left after clean tests rounds up; a claim rounds down.
            left = one.word == m.Word.CLEAN
            found.misrounded += told < one.carries - 1e-9 if left else told > one.carries + 1e-9
        if 0 < one.none < 1:
            (found.lines if one.line_id else found.carries).add(
                number, one.carries, true=any(copies)
            )
        if 0 < one.two < 1 and not one.line_id:
            found.two.add(number, one.two, true=max(copies) == 2)
    for pk, genes in book.genes.items():
        for line, count in genes.items():
            if count and (pk, line) not in spoken:
                found.wrong.append(f"animal {pk} carries line {line}, of which nothing is said")
    for clutch, true in book.sires.items():
        for sire, chance in inference.sire_chances(m.Clutch.objects.get(pk=clutch)).items():
            if 0 < chance < 1:
                found.sires.add(number, chance, true=sire == true)


def _check(found: Found, said: str, none: float, *, carries: bool) -> None:
    """What is certain must be true."""
    if none in (0, 1):
        found.certain += 1
        if carries != (none == 0):
            found.wrong.append(said)


def _print(found: Found) -> None:
    for name, bins in (
        ("carries it", found.carries), ("two copies", found.two),
        ("carries the line", found.lines), ("is the sire", found.sires),
    ):  # fmt: skip
        print(f"\n{name:18} {'n':>6} {'said':>7} {'true':>7} {'± s.e.':>7} {'z':>6}")
        squares = []
        for count, said, held, error, z in bins.rows():
            squares.append(z * z)
            print(f"{'':18} {count:6} {said:7.3f} {held:7.3f} {error:7.3f} {z:6.2f}")
        print(f"{'chi-squared':18} {sum(squares):6.1f} over {len(squares)} bins")
    print(f"\ncertain: {found.certain}, of these wrong: {len(found.wrong)}")
    for one in found.wrong[:10]:
        print("  ", one)
    print(f"claims above their chance, or what is left below it: {found.misrounded}")
    print(f"disputes: {found.disputes}")


if __name__ == "__main__":
    main()
