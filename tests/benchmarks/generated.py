"""A generated book, made once and kept: a pedigree with its clutches, entries and projects.

Rows are written straight into the database, as an import would leave them, and recomputed by the
app. A few things are then entered as a keeper enters them: clutches in the incubator, a project.
"""

from datetime import date, timedelta
from typing import Any

from tests.benchmarks.pedigrees import BACKGROUND, HET, POSSIBLE_HET, VISUAL, Pedigree, generate

TRAITS = ("Saltgrass", "Quillwort", "Marrowglass", "Fogbell", "Sedge", "Drift")
PEOPLE = ("owner", "first helper", "second helper", "third helper")
PASSWORD = "a plain long password"
_START, _DAYS = date(2006, 6, 1), 7000
_INCUBATED = timedelta(days=60)
_AT_ONCE = 2000


def write_book(animals: int, names: tuple[str, ...]) -> None:
    """Write a book of so many animals with these traits, and its people."""
    from keeper.domain import inference
    from keeper.domain.accounts.writes import add_helper, create_owner
    from keeper.domain.book.writing import writing

    owner = create_owner(name=PEOPLE[0], password=PASSWORD)
    for name in PEOPLE[1:]:
        add_helper(name=name, password=PASSWORD, by=owner)
    made = generate(animals, collections=max(1, animals // 500), loci=len(names), seed=1)
    _write_pedigree(made, names)
    _write_records(made, owner)
    with writing(by=owner, what="Recomputed", of_records=False) as book:
        inference.recompute(entry=book.entry)
    _write_entries(book.entry, owner)
    _enter_the_rest(owner)


def _write_pedigree(made: Pedigree, names: tuple[str, ...]) -> None:
    """One recessive trait a locus, one line each; animals and clutches with their days."""
    from keeper import models as m

    species = m.Species.objects.create(name="royal python", sex_determination="XY")
    for n, name in enumerate(names):
        trait = m.Trait.objects.create(species=species, name=name)
        locus = m.Locus.objects.create(species=species, name=name.lower())
        m.Line.objects.create(trait=trait, locus=locus, code=f"H{chr(65 + n)}", name="Harvesk")
    everyone = m.Animal.objects.bulk_create(
        (
            m.Animal(
                pk=i + 1, species=species, code=f"A{i + 1:05}", sex=("female", "male")[made.sex[i]],
                hatched_year=2006 + i * 20 // made.animals, place=f"Rack {made.home[i]}",
                hatched_on=_day_of(i, made),
            )
            for i in range(made.animals)
        ),
        batch_size=_AT_ONCE,
    )  # fmt: skip
    young = [0] * len(made.clutch_dam)
    days: dict[int, date] = {}
    for i, clutch in enumerate(made.clutch.tolist()):
        if clutch >= 0:
            young[clutch] += 1
            days[clutch] = _day_of(i, made)
    tallied = [0] * len(young)
    for clutch, count in zip(made.tally_clutch.tolist(), made.tally_count.tolist(), strict=True):
        tallied[clutch] += count
    m.Clutch.objects.bulk_create(
        (
            m.Clutch(
                pk=c + 1, species=species, code=f"C{c + 1:05}", dam=everyone[dam],
                eggs=young[c] + tallied[c], hatched_on=(on := days.get(c, _START)),
                laid_on=on - _INCUBATED,
            )
            for c, dam in enumerate(made.clutch_dam.tolist())
        ),
        batch_size=_AT_ONCE,
    )  # fmt: skip
    m.CandidateSire.objects.bulk_create(
        (
            m.CandidateSire(clutch_id=c + 1, sire=everyone[sire], share="1")
            for c, sire in enumerate(made.clutch_sire.tolist())
        ),
        batch_size=_AT_ONCE,
    )
    # Each hatchling with a record of its own is counted in a row of the hatch too.
    own = m.HatchRow.objects.bulk_create(
        (m.HatchRow(clutch_id=c + 1, count=count) for c, count in enumerate(young) if count),
        batch_size=_AT_ONCE,
    )
    row_of = {row.clutch_id: row for row in own}
    bred = [i for i, clutch in enumerate(made.clutch.tolist()) if clutch >= 0]
    for i in bred:
        clutch_id = int(made.clutch[i]) + 1
        everyone[i].clutch_id, everyone[i].hatch_row = clutch_id, row_of[clutch_id]
    hatched = [everyone[i] for i in bred]
    m.Animal.objects.bulk_update(hatched, ["clutch", "hatch_row"], batch_size=500)
    _count_on()


def _count_on() -> None:
    """Let PostgreSQL number animals and clutches from here, since these brought numbers along."""
    from django.core.management.color import no_style
    from django.db import connection

    from keeper import models as m

    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), [m.Animal, m.Clutch]):
            cursor.execute(statement)


def _day_of(animal: int, made: Pedigree) -> date:
    return _START + timedelta(days=animal * _DAYS // made.animals)


def _write_records(made: Pedigree, owner: Any) -> None:
    """What sources say, what was seen on each animal, and what was only counted."""
    from keeper import models as m

    traits = list(m.Trait.objects.order_by("pk"))
    claims = {VISUAL: "visual", HET: "carries", POSSIBLE_HET: "possible"}
    lines = {line.trait_id: line for line in m.Line.objects.all()}
    m.Statement.objects.bulk_create(
        (
            m.Statement(
                animal_id=i + 1, trait=trait, line=lines[trait.pk], claim=claims[paper],
                chance="2/3" if paper == POSSIBLE_HET else None,
            )
            for k, trait in enumerate(traits)
            for i, paper in enumerate(made.papers[:, k].tolist())
            if paper in claims and paper != BACKGROUND
        ),
        batch_size=_AT_ONCE,
    )  # fmt: skip
    m.Observation.objects.bulk_create(
        (
            m.Observation(
                animal_id=i + 1, trait=trait, on=_day_of(i, made), by=owner,
                seen="yes" if made.looks[i, k] else "no",
            )
            for k, trait in enumerate(traits)
            for i in range(made.animals)
            if made.clutch[i] >= 0
        ),
        batch_size=5000,
    )  # fmt: skip
    rows = m.HatchRow.objects.bulk_create(
        (
            m.HatchRow(clutch_id=clutch + 1, count=count)
            for clutch, count in zip(
                made.tally_clutch.tolist(), made.tally_count.tolist(), strict=True
            )
        ),
        batch_size=_AT_ONCE,
    )
    m.RowSighting.objects.bulk_create(
        (
            m.RowSighting(row=row, trait=trait, seen=bool(made.tally_looks[r, k]))
            for r, row in enumerate(rows)
            for k, trait in enumerate(traits)
        ),
        batch_size=5000,
    )


def _write_entries(recomputed: Any, owner: Any) -> None:
    """Give each clutch an entry that touched its young and moved their numbers."""
    from django.contrib.contenttypes.models import ContentType
    from django.db.models import OuterRef, Subquery

    from keeper import models as m

    of_clutch = ContentType.objects.get_for_model(m.Clutch)
    of_animal = ContentType.objects.get_for_model(m.Animal)
    clutches = list(m.Clutch.objects.order_by("pk"))
    entries = m.DaybookEntry.objects.bulk_create(
        (
            m.DaybookEntry(
                by=owner, what=f"Logged the hatch of {clutch.code}",
                subject_type=of_clutch, subject_id=clutch.pk,
            )
            for clutch in clutches
        ),
        batch_size=_AT_ONCE,
    )  # fmt: skip
    entry_of = {clutch.pk: entry for clutch, entry in zip(clutches, entries, strict=True)}
    young = m.Animal.objects.exclude(clutch=None).values_list("pk", "clutch")
    m.Touch.objects.bulk_create(
        (
            m.Touch(
                entry=entry_of[clutch], record_type=of_animal, record_id=pk, history_id=pk,
                created=True,
            )
            for pk, clutch in young
        ),
        batch_size=_AT_ONCE,
    )  # fmt: skip
    hatched = (
        m.DaybookEntry.objects.filter(
            subject_type=of_clutch,
            subject_id=OuterRef("clutch"),
        )
        .order_by()
        .values("pk")[:1]
    )
    of_young = m.Animal.objects.filter(pk=OuterRef("animal")).annotate(logged=Subquery(hatched))
    for rows in (m.StandingChange, m.Standing):
        moved: Any = rows._default_manager.filter(entry=recomputed)
        moved.exclude(animal__clutch=None).update(entry=Subquery(of_young.values("logged")[:1]))


def _enter_the_rest(owner: Any) -> None:
    """Clutches in the incubator, hatched and not written down; a project; two disputes."""
    from django.utils import timezone

    from keeper import models as m
    from keeper.domain.book.writing import writing
    from keeper.domain.projects.writes import Requirement, join, start_project

    today = timezone.localdate()
    known = m.Animal.objects.filter(standings__isnull=False, status="kept").distinct()
    dams = list(known.filter(sex="female").order_by("-pk")[:20])
    sires = list(known.filter(sex="male").order_by("-pk")[:20])
    for n, (dam, sire) in enumerate(zip(dams[:12], sires[:12], strict=True)):
        with writing(by=owner, what=f"Laid clutch W{n:02}") as book:
            laid = today - timedelta(days=50 + n)
            clutch = m.Clutch(species=dam.species, code=f"W{n:02}", dam=dam, laid_on=laid, eggs=6)
            clutch.hatched_on = today - timedelta(days=1) if n >= 8 else None
            book.keep(clutch)
            book.keep(m.CandidateSire(clutch=clutch, sire=sire))
    traits = list(m.Trait.objects.order_by("pk"))
    project = m.Project(species=dams[0].species, name="Both of them", wanted=2)
    goal = [Requirement(one, one.lines.first(), "shows") for one in traits[:2]]
    start_project(project=project, parts=goal, by=owner)
    for one in (*dams[:5], *sires[:5]):
        held = m.Member(
            project=project, animal=one, since=today - timedelta(days=100),
            reason="Strong eater", review_on=today - timedelta(days=1),
        )  # fmt: skip
        join(member=held, by=owner)


def write_disputes(number: int) -> None:
    """Enter so many disputes, each in a family of its own."""
    from keeper import models as m

    owner, trait = m.Account.objects.order_by("pk")[0], m.Trait.objects.order_by("pk")[0]
    for n in range(number):
        _write_dispute(f"Q{n}", trait.species, trait, owner)


def _write_dispute(code: str, species: Any, trait: Any, owner: Any) -> None:
    """Enter what two parents cannot have given, in a family of its own.

    In the large family it would slow every question about it, which is another measurement.
    """
    from django.utils import timezone

    from keeper import models as m
    from keeper.domain.book.writing import writing
    from tests.keeper.looking import observe

    with writing(by=owner, what=f"Entered family {code}") as book:
        dam = book.keep(m.Animal(species=species, code=f"{code}-F", sex="female"))
        sire = book.keep(m.Animal(species=species, code=f"{code}-M", sex="male"))
        clutch = book.keep(m.Clutch(species=species, code=code, dam=dam))
        book.keep(m.CandidateSire(clutch=clutch, sire=sire))
        young = book.keep(m.Animal(species=species, code=f"{code}-1", clutch=clutch))
    observe(animal=young, trait=trait, seen="yes", on=timezone.localdate(), note="", by=owner)
