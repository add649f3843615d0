"""Which pages of a generated book are measured, and how long each takes one reader alone."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from time import perf_counter, thread_time
from typing import Any

#: How many subjects of each kind are opened in turn.
SUBJECTS = 10
REPEATS = 20
#: Seconds after which something slow is not done once more; some times it always is.
ENOUGH, LEAST = 6.0, 4


@dataclass(frozen=True)
class Figure:
    """How long something took, in milliseconds: most of it, the slow end, and the processor's part.

    `queries` is what one of them asked the database.
    """

    p50: float
    p95: float
    cpu: float = 0
    queries: int = 0
    number: int = 0


def quantile(values: Sequence[float], share: float) -> float:
    """Return the value below which this share of the values lies, the nearest one."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, round(share * (len(ordered) - 1)))]


def figure(
    work: Callable[[int], Any], *, repeats: int = REPEATS, warm: int = 1, queries: int = 0
) -> Figure:
    """Time something that is done again and again, each time with its number."""
    for n in range(warm):
        work(n)
    walls, processor = [], []
    start = perf_counter()
    for n in range(repeats):
        if n >= LEAST and perf_counter() - start > ENOUGH:
            break
        begun, spent = perf_counter(), thread_time()
        work(n + warm)
        processor.append((thread_time() - spent) * 1000)
        walls.append((perf_counter() - begun) * 1000)
    middle, slow = quantile(walls, 0.5), quantile(walls, 0.95)
    return Figure(middle, slow, quantile(processor, 0.5), queries, len(walls))


def addresses() -> dict[str, list[str]]:
    """Return the addresses to open of each kind of page."""
    from keeper import models as m

    known = m.Animal.objects.filter(standings__isnull=False).distinct()
    dams = _pks(known.filter(sex="female", clutches__isnull=False))
    sires = _pks(known.filter(sex="male"))
    shown = dams[: SUBJECTS // 2] + sires[: SUBJECTS // 2]
    trait = m.Trait.objects.get(name="Saltgrass").pk
    of_trait = _pks(m.Animal.objects.filter(standings__trait=trait, clutch__isnull=False))
    clutches = _pks(m.Clutch.objects.filter(hatched_on__isnull=False, dam__in=dams))
    laid = _pks(m.Clutch.objects.filter(code__startswith="W", hatched_on=None))
    pairs = zip(dams, sires, strict=False)
    open_ = m.Dispute.objects.filter(closed=None).values_list("pk", flat=True)[:SUBJECTS]
    found = {
        "Today": ["/"],
        "collection": ["/animals/"],
        "search": [f"/animals/?q=A0{n}" for n in range(SUBJECTS)],
        "carriers of one gene": [f"/animals/?gene1={trait}&least1={50 + n}" for n in range(5)],
        "an animal": [f"/animals/{pk}/" for pk in shown],
        "grounds of one gene": [f"/animals/{pk}/grounds/{trait}/" for pk in of_trait],
        "pairing": [f"/clutches/pairing/?dam={dam}&sire={sire}" for dam, sire in pairs],
        "clutches": ["/clutches/"],
        "a clutch": [f"/clutches/{pk}/" for pk in clutches],
        "hatch form": [f"/clutches/{pk}/hatch/" for pk in laid],
        "daybook": ["/daybook/"],
        "disputes": ["/disputes/"],
        "a dispute": [f"/disputes/{pk}/" for pk in open_],
        "projects": ["/projects/"],
        "a project": [f"/projects/{pk}/" for pk in _pks(m.Project.objects.all())],
        "register": ["/register/"],
        "genetic health, kept": ["/collection/diversity/"],
    }
    return {page: listed for page, listed in found.items() if listed}


def _pks(rows: Any) -> list[int]:
    return list(rows.order_by("-pk").values_list("pk", flat=True).distinct()[:SUBJECTS])


def one_reader() -> dict[str, Figure]:
    """Open each page again and again as the owner, in this process."""
    from django.db import connection
    from django.test import Client
    from django.test.utils import CaptureQueriesContext

    from keeper.models import Account

    client = Client(HTTP_HOST="localhost")
    owner = Account.objects.order_by("pk")[0]
    client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    found = {}
    for page, listed in addresses().items():
        answer = client.get(listed[0])
        if answer.status_code != 200:
            raise RuntimeError(f"{listed[0]} answered {answer.status_code}")
        with CaptureQueriesContext(connection) as asked:
            client.get(listed[-1])

        def opened(n: int, listed: list[str] = listed) -> None:
            client.get(listed[n % len(listed)])

        found[page] = figure(opened, queries=len(asked))
    return found


def one_writer() -> dict[str, Figure]:
    """Save hatch days and looks one after the other, in this process."""
    from keeper import models as m

    owner = m.Account.objects.order_by("pk")[0]
    looked_at = m.Animal.objects.filter(standings__isnull=False, clutch__isnull=False).distinct()
    looks = list(looked_at.order_by("-pk").select_related("species")[:400:13])
    return {
        "hatch day saved": figure(_hatch_day(owner), repeats=9, warm=1),
        "one look logged": figure(_look(owner, looks), repeats=20, warm=1),
    }


def _look(owner: Any, animals: list[Any]) -> Callable[[int], Any]:
    from keeper.models import Observation
    from tests.keeper.looking import observe

    def save(n: int) -> None:
        animal = animals[n % len(animals)]
        last = Observation.objects.filter(animal=animal).order_by("trait")
        seen = last[n % len(last)]
        observe(animal=animal, trait=seen.trait, seen=seen.seen, on=seen.on, by=owner)

    return save


def _hatch_day(owner: Any) -> Callable[[int], Any]:
    """Return a way to save a clutch of eight, three of them with records.

    New records are kept together, as the form of a hatch day keeps them.
    """
    from datetime import date

    from keeper import models as m
    from keeper.domain.book.writing import writing

    known = m.Animal.objects.filter(standings__isnull=False).distinct()
    dams, sires = list(known.filter(sex="female")[:200]), list(known.filter(sex="male")[:200])
    traits = list(m.Trait.objects.all())

    def save(n: int) -> None:
        dam, sire = dams[-1 - n * 7 % len(dams)], sires[-1 - n * 11 % len(sires)]
        clutch = m.Clutch(species=dam.species, code=f"H{n:04}", dam=dam, eggs=8)
        row = m.HatchRow(clutch=clutch, count=8)
        new: list[m.Record] = [clutch, m.CandidateSire(clutch=clutch, sire=sire), row]
        new += [m.RowSighting(row=row, trait=trait, seen=False) for trait in traits]
        for k in range(3):
            young = m.Animal(species=dam.species, code=f"H{n:04}-{k}", clutch=clutch, hatch_row=row)
            new.append(young)
            new += [
                m.Observation(animal=young, trait=one, seen="no", on=date(2026, 7, 1), by=owner)
                for one in traits
            ]
        with writing(by=owner, what=f"Hatch day {n}") as book:
            book.keep_many(new)

    return save
