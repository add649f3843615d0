"""Printed sheets against the figures: `python -m tests.load.claims --books 100`.

For every animal of the example and of so many random books a sheet is set as PDF and its text read
back. No claim in it may be above its figure, nor certain where the figure is not, nor about a gene
that is disputed or of which nothing stands.
"""

import argparse
import re
from collections.abc import Iterator
from typing import Any

from tests.benchmarks.scratch import scratch_book

_FIGURE = re.compile(r"(?<!under )\b(\d+) %")
_CERTAIN = re.compile(r"^(visual|proven|het by parentage|carrier|100 %)")


def faults(animal: Any, by: Any) -> Iterator[str]:
    """What a printed sheet of an animal says that its standings do not."""
    from keeper.domain.sheets.writes import draft
    from keeper.models import Shows, Standing, Trait
    from keeper.paper.typesetting import typeset
    from tests.keeper.sheets.rows import text_of_pdf

    content = draft(animal, by=by)
    _, text = text_of_pdf(typeset(content, source="sheet", size="a4"))
    said = text.partition("What it carries")[2].partition(" Parents ")[0]
    rows = Standing.objects.filter(animal=animal).select_related("trait")
    over_all = {one.trait.name: one for one in rows if one.line_id is None}
    # A double form stands in the two copies of its base, as a look of its own.
    shown = Shows.objects.filter(animal=animal).select_related("trait")
    looks = {one.trait.name: one for one in shown if one.trait is not None}
    claimed = {row["trait"]: row for row in content["claims"]}
    for name, row in claimed.items():
        look = looks.get(name) if name not in over_all else None
        if look is None:
            yield from _claim(animal.code, name, row["words"], over_all.get(name), said)
        elif look.disputed or (look.chance < 1 and not _FIGURE.search(row["words"])):
            yield f"{animal.code}: {name} {row['words']!r} is shown with {look.chance:.6f}"
    spoken = " ".join([*content["disputed"], *content["absent"], *content["shows"]])
    spoken += " ".join(row["grounds"] for row in content["claims"] if "grounds" in row)
    for trait in Trait.objects.filter(species=animal.species_id):
        known = trait.name in claimed or trait.name in spoken
        if not known and f"{trait.name} " in said.split("Shows")[0]:
            yield f"{animal.code}: {trait.name} is named, and nothing is claimed of it"


def _claim(code: str, name: str, words: str, one: Any, said: str) -> Iterator[str]:
    if one is None or one.dispute_id is not None:
        yield f"{code}: {name} is claimed and nothing stands, or it is disputed: {words}"
        return
    if words not in said:
        yield f"{code}: {name} is printed otherwise than {words!r}"
    carries = 1 - one.none
    left = 0.01 if one.word == "clean" else 0
    for clause in words.split(";"):
        chance = one.two if "two copies" in clause else carries
        if "under 1 %" in clause and chance >= 0.01:
            yield f"{code}: {name} {words!r} is below {chance:.6f}"
        for figure in map(int, _FIGURE.findall(clause)):
            if figure / 100 > chance + 1e-9 + left:
                yield f"{code}: {name} {words!r} is above {chance:.6f}"
    if _CERTAIN.match(words) and not _FIGURE.search(words) and carries < 1:
        yield f"{code}: {name} {words!r} is certain, and the figure is {carries:.6f}"


def main() -> None:
    """Print sheets of the example and of random books, and compare."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--books", type=int, default=100)
    asked.add_argument("--seed", type=int, default=1)
    options = asked.parse_args()
    with scratch_book():
        from django.db import transaction

        from keeper.domain import inference
        from keeper.domain.accounts.writes import create_owner
        from keeper.domain.example import replaying
        from keeper.models import Animal
        from tests.keeper.disputes.drawn import DrawnBook

        inference.warm_up()
        owner = create_owner(name="owner", password="a plain long password")
        sheets, found = 0, list[str]()
        for number in range(options.books + 1):
            with transaction.atomic():
                if number == options.books:
                    replaying.load(by=owner)
                else:
                    DrawnBook(owner, options.seed * 1000 + number)
                for animal in Animal.objects.live().select_related("species"):
                    sheets += 1
                    found += faults(animal, owner)
                transaction.set_rollback(True)
        print(*found[:20], sep="\n")
        print(f"{sheets} sheets of {options.books} random books and the example: "
              f"{len(found)} faults")  # fmt: skip


if __name__ == "__main__":
    main()
