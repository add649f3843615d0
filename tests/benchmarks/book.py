"""How quick the app is on a book of ten thousand animals: `python -m tests.benchmarks.book`.

The book is generated, written straight into a database of its own in a temporary folder, and
recomputed once by the app. Then a hatch day is saved and pages are asked for, each several times;
the table gives the median of the server's own time in milliseconds.
"""

import argparse
from collections.abc import Callable
from datetime import date, timedelta
from statistics import median
from time import perf_counter
from typing import Any

from tests.benchmarks.scratch import scratch_book

TRAITS = ("Saltgrass", "Quillwort", "Marrowstone", "Fogbell", "Sedge", "Drift")
REPEATS = 5


def main() -> None:
    """Make the book, measure, print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--animals", type=int, default=10_000)
    asked.add_argument("--traits", type=int, default=len(TRAITS))
    options = asked.parse_args()
    with scratch_book():
        _measure(options.animals, TRAITS[: options.traits])


def _timed(work: Callable[[], Any], repeats: int = REPEATS) -> float:
    """Median milliseconds of some calls, after one that warms up."""
    work()
    found = []
    for _ in range(repeats):
        begun = perf_counter()
        work()
        found.append((perf_counter() - begun) * 1000)
    return median(found)


def _measure(animals: int, traits: tuple[str, ...]) -> None:
    from keeper.domain import inference
    from keeper.domain.accounts.writes import create_owner
    from keeper.domain.book.writing import writing
    from keeper.models import Animal, Standing

    inference.warm_up()
    owner = create_owner(name="owner", password="a plain long password")
    begun = perf_counter()
    _write(animals, traits, owner)
    print(f"written in {perf_counter() - begun:.1f} s: {Animal.objects.count()} animals")
    begun = perf_counter()
    with writing(by=owner, what="Recomputed", of_records=False) as book:
        inference.recompute(entry=book.entry)
    rows = Standing.objects.count()
    print(f"whole book computed in {perf_counter() - begun:.1f} s (must: 30); {rows} standings")
    begun = perf_counter()
    wrong = inference.differences()
    print(f"compared with what is stored in {perf_counter() - begun:.1f} s: {len(wrong)} differ")
    print(f"hatch day saved in {_hatch_days(owner):.0f} ms (must: 300)")
    _pages(owner)


def _write(animals: int, names: tuple[str, ...], owner: Any) -> None:
    """Bulk-insert a generated pedigree: one recessive trait a locus, one line each."""
    from keeper import models as m
    from tests.benchmarks.pedigrees import BACKGROUND, HET, POSSIBLE_HET, VISUAL, generate

    made = generate(animals, collections=max(1, animals // 500), loci=len(names), seed=1)
    species = m.Species.objects.create(name="royal python", sex_determination="XY")
    traits = [m.Trait.objects.create(species=species, name=name) for name in names]
    for n, trait in enumerate(traits):
        locus = m.Locus.objects.create(species=species, name=trait.name.lower())
        m.Line.objects.create(trait=trait, locus=locus, code=f"H{chr(65 + n)}", name="Harrel")
    start = date(2006, 6, 1)
    everyone = m.Animal.objects.bulk_create(
        m.Animal(
            pk=i + 1, species=species, code=f"A{i + 1:05}", sex=("female", "male")[made.sex[i]],
            hatched_year=2006 + i * 20 // made.animals, place=f"Rack {made.home[i]}",
            hatched_on=start + timedelta(days=i * 7000 // made.animals),
        )
        for i in range(made.animals)
    )  # fmt: skip
    m.Clutch.objects.bulk_create(
        m.Clutch(pk=c + 1, species=species, code=f"C{c + 1:05}", dam=everyone[dam])
        for c, dam in enumerate(made.clutch_dam.tolist())
    )
    m.CandidateSire.objects.bulk_create(
        m.CandidateSire(clutch_id=c + 1, sire=everyone[sire], share="1")
        for c, sire in enumerate(made.clutch_sire.tolist())
    )
    for i, clutch in enumerate(made.clutch.tolist()):
        everyone[i].clutch_id = None if clutch < 0 else clutch + 1
    m.Animal.objects.bulk_update(everyone, ["clutch"], batch_size=500)
    claims = {VISUAL: "visual", HET: "carries", POSSIBLE_HET: "possible"}
    lines = {line.trait_id: line for line in m.Line.objects.all()}
    m.Statement.objects.bulk_create(
        m.Statement(
            animal=everyone[i], trait=trait, line=lines[trait.pk], claim=claims[paper],
            chance="2/3" if paper == POSSIBLE_HET else None,
        )
        for k, trait in enumerate(traits)
        for i, paper in enumerate(made.papers[:, k].tolist())
        if paper in claims and paper != BACKGROUND
    )  # fmt: skip
    m.Observation.objects.bulk_create(
        (
            m.Observation(
                animal=everyone[i], trait=trait, on=start, by=owner,
                seen="yes" if made.looks[i, k] else "no",
            )
            for k, trait in enumerate(traits)
            for i in range(made.animals)
            if made.clutch[i] >= 0
        ),
        batch_size=5000,
    )  # fmt: skip
    rows = m.HatchRow.objects.bulk_create(
        m.HatchRow(clutch_id=clutch + 1, count=count)
        for clutch, count in zip(made.tally_clutch.tolist(), made.tally_count.tolist(), strict=True)
    )
    m.RowSighting.objects.bulk_create(
        m.RowSighting(row=row, trait=trait, seen=bool(made.tally_looks[r, k]))
        for r, row in enumerate(rows)
        for k, trait in enumerate(traits)
    )


def _hatch_days(owner: Any) -> float:
    """Median milliseconds of saving a clutch of eight, three of them with records."""
    from keeper import models as m
    from keeper.domain.book.writing import writing

    dams = list(m.Animal.objects.filter(sex="female", standings__isnull=False).distinct()[:200])
    sires = list(m.Animal.objects.filter(sex="male", standings__isnull=False).distinct()[:200])
    traits = list(m.Trait.objects.all())
    number = iter(range(10_000))

    def save() -> None:
        n = next(number)
        dam, sire = dams[-1 - n * 7 % 150], sires[-1 - n * 11 % 150]
        with writing(by=owner, what=f"Hatch day {n}") as book:
            clutch = book.keep(m.Clutch(species=dam.species, code=f"H{n:04}", dam=dam, eggs=8))
            book.keep(m.CandidateSire(clutch=clutch, sire=sire))
            row = book.keep(m.HatchRow(clutch=clutch, count=8))
            for trait in traits:
                book.keep(m.RowSighting(row=row, trait=trait, seen=False))
            for k in range(3):
                young = book.keep(
                    m.Animal(species=dam.species, code=f"H{n:04}-{k}", clutch=clutch, hatch_row=row)
                )
                for trait in traits:
                    book.keep(
                        m.Observation(
                            animal=young, trait=trait, seen="no", on=date(2026, 7, 1), by=owner
                        )
                    )

    return _timed(save, 9)


def _pages(owner: Any) -> None:
    from django.test import Client

    from keeper import models as m

    client = Client(HTTP_HOST="localhost")
    client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    one = m.Animal.objects.filter(standings__isnull=False, clutches__isnull=False).latest("pk")
    mate = m.Animal.objects.filter(standings__isnull=False, sex="male").latest("pk")
    clutch = m.Clutch.objects.latest("pk")
    trait = m.Trait.objects.get(name="Saltgrass")
    for address in (
        "/",
        "/animals/",
        "/animals/?q=A09",
        f"/animals/?gene1={trait.pk}&least1=50",
        f"/animals/{one.pk}/",
        "/clutches/",
        f"/clutches/{clutch.pk}/",
        f"/clutches/{clutch.pk}/hatch/",
        f"/clutches/pairing/?dam={one.pk}&sire={mate.pk}",
        "/projects/",
        "/register/",
        "/daybook/",
    ):
        answer = client.get(address)
        spent = _timed(lambda address=address: client.get(address))  # type: ignore[misc]
        mark = "" if answer.status_code == 200 else f" ({answer.status_code})"
        print(f"{spent:7.0f} ms  {address}{mark}")


if __name__ == "__main__":
    main()
