"""How well disputes are explained.

`python -m tests.benchmarks.disputes --books 500`: random books with one planted mistake each
(`tests.keeper.disputes.planted`, by its mix); the table tells how often the true explanation is
listed, and how often it is the likeliest. Books in which the mistake makes nothing impossible are
drawn again.

`… --drawn --books 20 --seed 100 --into FILE`: books of several seasons whose mistakes are drawn at
the base rates (`tests.keeper.disputes.drawn`), each dispute as a line of FILE, to which a later run
with other seeds adds. `… --proofs --books 300`: of animals of such books that are proven and
undisputed, how many do not carry what they are proven for: those that a sheet prints as proven,
and those that rest on one look, of which it prints the figure at the base rate of misreading.
`… --read FILE`: of the explanations given a chance of about p, about p
should be true; and the first should be true as often as its odds say.
"""

import argparse
import json
from collections import Counter
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from random import Random
from statistics import median
from time import process_time
from typing import Any

from tests.benchmarks.scratch import scratch_book

_BANDS = (0.0, 0.01, 0.05, 0.2, 0.4, 0.6, 0.8, 0.95, 1.0)
# A band with fewer explanations is reported, and not judged.
_JUDGED = 100
_POINTS = 0.05


def main() -> None:
    """Draw the books, explain their disputes, print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--books", type=int, default=500)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--show", action="store_true", help="print what was not put first")
    asked.add_argument("--drawn", action="store_true", help="mistakes at the base rates")
    asked.add_argument("--proofs", action="store_true", help="how many proofs are false")
    asked.add_argument("--into", type=Path, help="where drawn disputes are added")
    asked.add_argument("--read", type=Path, help="only tell how calibrated these are")
    options = asked.parse_args()
    if options.read is not None:
        report([json.loads(line) for line in options.read.read_text().splitlines()])
        return
    with scratch_book():
        if options.proofs:
            _print_proofs(_proofs(options.books, options.seed))
            return
        if not options.drawn:
            _measure(options.books, options.seed, show=options.show)
            return
        found = []
        for dispute in _drawn(options.books, options.seed, show=options.show):
            found.append(dispute)
            if options.into is not None:
                with options.into.open("a") as file:
                    print(json.dumps(dispute), file=file)
        report(found)


# --- one planted mistake -------------------------------------------------------------------------


def _measure(books: int, seed: int, *, show: bool) -> None:
    from django.db import transaction

    from keeper.domain import inference
    from keeper.domain.accounts.writes import create_owner
    from tests.keeper.disputes.planted import MIX, explained_at

    inference.warm_up()
    owner = create_owner(name="owner", password="a plain long password")
    draw = Random(seed)
    kinds = draw.choices(list(MIX), weights=list(MIX.values()), k=books)
    drawn, listed, first = Counter[str](), Counter[str](), Counter[str]()
    seconds = []
    for number, kind in enumerate(kinds):
        with transaction.atomic():
            begun = process_time()
            place, told = explained_at(owner, kind, seed * 100_000 + number * 100)
            seconds.append(process_time() - begun)
            transaction.set_rollback(True)
        drawn[kind] += 1
        listed[kind] += place is not None
        first[kind] += place == 0
        if show and place != 0:
            print(number, kind, place, *told, sep="\n    ", flush=True)
    print(f"{'planted':12} {'books':>6} {'listed':>8} {'first':>8}")
    for kind in MIX:
        _row(kind, drawn[kind], listed[kind], first[kind])
    _row("all", books, listed.total(), first.total())
    print(f"median {median(seconds):.2f} s of CPU a book, drawing and writing it included")


def _row(name: str, drawn: int, listed: int, first: int) -> None:
    if drawn:
        print(f"{name:12} {drawn:6} {listed / drawn:8.1%} {first / drawn:8.1%}")


# --- mistakes at the base rates ------------------------------------------------------------------


def _drawn(books: int, seed: int, *, show: bool) -> Iterator[dict[str, Any]]:
    """Each dispute of so many books: its explanations' odds, each with whether it is true."""
    from django.db import transaction

    from keeper.domain import inference
    from keeper.domain.accounts.writes import create_owner
    from keeper.domain.explaining import clusters, explained
    from keeper.models import Animal
    from tests.keeper.disputes.drawn import DrawnBook

    inference.warm_up()
    owner = create_owner(name="owner", password="a plain long password")
    for number in range(seed, seed + books):
        with transaction.atomic():
            book = DrawnBook(owner, number)
            animals = Animal.objects.count()
            for cluster in clusters():
                begun = process_time()
                try:
                    weighed = explained(cluster)
                except inference.Unanswerable:
                    weighed = ()
                odds = [(one.share, book.tells(one.parts)) for one in weighed]
                yield {
                    "seed": number, "animals": animals, "odds": odds,
                    "kinds": ["+".join(part.kind for part in one.parts) for one in weighed],
                    "seconds": process_time() - begun,
                }  # fmt: skip
                if show and not (odds and odds[0][1]):
                    told = [f"{one.share:.4f} {one.key} {one.text}" for one in weighed[:8]]
                    print(number, sorted(book.true), dict(book.undeclared), *told, sep="\n    ")
            transaction.set_rollback(True)


# --- proofs that are false -----------------------------------------------------------------------


def _proofs(books: int, seed: int) -> dict[bool, list[tuple[float, bool]]]:
    """Of proofs that rest on one look, or not: the figure that a sheet prints, and the truth."""
    from django.db import transaction

    from keeper.domain import inference
    from keeper.domain.accounts.writes import create_owner
    from keeper.domain.saying.wording import rests_on_one_look
    from keeper.models import Standing, Word
    from tests.keeper.disputes.drawn import DrawnBook

    inference.warm_up()
    owner = create_owner(name="owner", password="a plain long password")
    found: dict[bool, list[tuple[float, bool]]] = {False: [], True: []}
    for number in range(seed, seed + books):
        with transaction.atomic():
            book = DrawnBook(owner, number)
            proven = Standing.objects.filter(word=Word.PROVEN, line=None, dispute=None)
            for one in proven.select_related("animal", "trait"):
                alone = rests_on_one_look(one)
                said = inference.if_misread(one.animal, one.trait, None) if alone else one.carries
                if said is not None:
                    found[alone].append((said, book.carries(one.animal_id, one.trait.name)))
            transaction.set_rollback(True)
    return found


def _print_proofs(found: dict[bool, list[tuple[float, bool]]]) -> None:
    for alone, name in ((False, "printed as proven"), (True, "rest on one look")):
        number = len(found[alone])
        false = sum(not true for _, true in found[alone])
        said = sum(figure for figure, _ in found[alone])
        share = false / number if number else 0.0
        print(f"{name}: {number}, false {false} ({share:.2%}); by what is printed "
              f"{number - said:.1f} would be")  # fmt: skip


def report(disputes: list[dict[str, Any]]) -> None:
    """Print how often what is given about p is true, and how often the first is."""
    if not disputes:
        print("no disputes")
        return
    explained = [one["odds"] for one in disputes if one["odds"]]
    first = [odds[0] for odds in explained]
    number = len(disputes)
    print(f"{number} disputes in books of {min(one['animals'] for one in disputes)} to "
          f"{max(one['animals'] for one in disputes)} animals; "
          f"{number - len(explained)} without an explanation")  # fmt: skip
    listed = sum(any(true for _, true in odds) for odds in explained)
    print(f"listed {listed / number:.1%}, first {sum(true for _, true in first) / number:.1%}, "
          f"by its odds {sum(share for share, _ in first) / number:.1%}")  # fmt: skip
    for name, every in (("all", [one for odds in explained for one in odds]), ("first", first)):
        print(f"{name:>5}: given, mean, true, number")
        for low, high in pairwise(_BANDS):
            _band(low, high, [one for one in every if low <= one[0] < high or one[0] == high == 1])
    print(f"median {median(one['seconds'] for one in disputes):.2f} s of CPU a dispute, most "
          f"{max(one['seconds'] for one in disputes):.1f} s")  # fmt: skip


def _band(low: float, high: float, given: list[tuple[float, bool]]) -> None:
    if not given:
        return
    number = len(given)
    mean = sum(share for share, _ in given) / number
    true = sum(is_true for _, is_true in given) / number
    error = (sum(share * (1 - share) for share, _ in given)) ** 0.5 / number
    held = abs(true - mean) <= max(2 * error, _POINTS)
    judged = ("holds" if held else "does not hold") if number >= _JUDGED else "too few to judge"
    print(f"  {low:5.0%} to {high:4.0%}: {mean:6.1%} {true:6.1%} {number:6}  {judged}")


if __name__ == "__main__":
    main()
