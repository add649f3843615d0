"""Entering, changing, withdrawing and restoring animals, and what is seen on them."""

from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from keeper.domain.book.writing import writing
from keeper.models import (
    Account,
    Animal,
    Contact,
    DaybookEntry,
    HatchRow,
    Line,
    Look,
    Observation,
    Paper,
    Standing,
    StandingChange,
    Statement,
)
from tests.factories import AnimalFactory, LineFactory, SpeciesFactory, TraitFactory
from tests.keeper.animals.rows import hatch, het, saltgrass_har, visual


@pytest.fixture
def saltgrass(db: None) -> Line:
    return saltgrass_har()


def typed(line: Line, **more: Any) -> dict[str, Any]:
    """What the page of a new animal sends."""
    rows: dict[str, Any] = {
        f"{prefix}-{name}": value
        for prefix in ("said", "seen")
        for name, value in (("TOTAL_FORMS", 8), ("INITIAL_FORMS", 0))
    }
    rows |= {f"seen-{n}-seen": "yes" for n in range(8)}
    animal = {"code": "F-014", "species": line.trait.species_id, "sex": "female", "status": "kept"}
    return rows | animal | {"look-scope": "part"} | more


def test_new_animal_comes_with_its_source_papers_statements_and_looks(
    owner_client: Client, owner: Account, saltgrass: Line
) -> None:
    data = typed(
        saltgrass,
        **{
            "new_source": "Ines Varga",
            "acquired_on": "2022-03-01",
            "papers-says": "66 % het Saltgrass, Harvesk line",
            "said-0-line": saltgrass.pk,
            "said-0-claim": "possible",
            "said-0-chance": "66 %",
            "seen-0-trait": saltgrass.trait_id,
            "seen-0-seen": "no",
        },
    )
    answer = owner_client.post(reverse("animals-new"), data)
    animal, entry = Animal.objects.get(), DaybookEntry.objects.get()
    assert answer["Location"] == f"{reverse('animals-one', args=[animal.pk])}?moved={entry.pk}"
    statement, paper, look = Statement.objects.get(), Paper.objects.get(), Observation.objects.get()
    source = Contact.objects.get(name="Ines Varga")
    assert animal.source == statement.source == paper.source == source
    assert (statement.trait, statement.paper) == (saltgrass.trait, paper)
    assert (look.seen, look.on, look.by) == ("no", date(2022, 3, 1), owner)
    assert Standing.objects.get(animal=animal, line=saltgrass).one == pytest.approx(0.66)
    assert "1 figure moved" in owner_client.get(answer["Location"]).content.decode()


def test_new_animal_may_come_with_a_whole_look(
    owner_client: Client, owner: Account, saltgrass: Line
) -> None:
    owner_client.post(reverse("animals-new"), typed(saltgrass, **{"look-scope": "whole"}))
    assert (Look.objects.get().animal.code, Observation.objects.count()) == ("F-014", 0)


@pytest.mark.parametrize(
    ("more", "complaint"),
    [
        ({"code": "f-001"}, "This code is in use already. Choose another."),
        ({"code": "F 14"}, "A code has letters, figures"),
        ({"dam": "X-99"}, "No animal has the code “X-99”. Check it, or add the animal first."),
        (
            {"dam": "F-001", "clutch_code": "none"},
            ("No clutch has the code “none”. Check it, or enter the clutch first."),
        ),
        ({"said-0-claim": "carries"}, "Choose a trait, or one of its lines."),
        ({"said-0-claim": "possible", "said-0-line": "HAR"}, "Say how likely"),
        (
            {"said-0-claim": "possible", "said-0-line": "HAR", "said-0-chance": "lots"},
            "is no chance",
        ),
        ({"papers-says": "het"}, "Say whose papers these are."),
        ({"seen-0-trait": "other"}, "Quillwort is no trait of royal python. Choose one that is."),
        ({"hatched_on": "2024-05-01", "acquired_on": "2023-01-01"}, "acquired before it hatched"),
    ],
)
def test_new_animal_that_is_not_in_order_is_refused_with_everything_kept(
    owner_client: Client, saltgrass: Line, more: dict[str, Any], complaint: str
) -> None:
    AnimalFactory.create(species=saltgrass.trait.species, code="F-001", sex="female")
    other = TraitFactory.create(species=SpeciesFactory.create(), name="Quillwort")
    values = {"HAR": saltgrass.pk, "other": other.pk}
    data = typed(saltgrass, name="Wren") | {k: values.get(v, v) for k, v in more.items()}
    answer = owner_client.post(reverse("animals-new"), data)
    page = answer.content.decode()
    assert answer.status_code == 200
    assert complaint in page
    assert 'value="Wren"' in page
    assert Animal.objects.count() == 1 and not Contact.objects.exists()


def test_new_animal_with_more_copies_stated_than_fit_is_refused(
    owner_client: Client, saltgrass: Line
) -> None:
    trait = TraitFactory.create(species=saltgrass.trait.species, name="Glasswort")
    rival = LineFactory.create(trait=trait, locus=saltgrass.locus, code="PEL")
    data = typed(saltgrass, **{"said-0-line": saltgrass.pk, "said-0-claim": "visual"})
    data |= {"said-1-line": rival.pk, "said-1-claim": "carries"}
    page = owner_client.post(reverse("animals-new"), data).content.decode()
    assert "These need 3 copies at one place" in page
    assert not Animal.objects.exists()


def test_new_animal_names_a_trait_once(owner_client: Client, saltgrass: Line) -> None:
    data = typed(saltgrass, **{"said-0-line": saltgrass.pk, "said-0-claim": "carries"})
    data |= {"said-7-line": saltgrass.pk, "said-7-claim": "visual"}
    page = owner_client.post(reverse("animals-new"), data).content.decode()
    assert "Named twice: Saltgrass. Keep one row." in page
    assert "<details open><summary>More rows" in page


def test_changing_a_parent_moves_the_numbers_and_keeps_the_reason(
    owner_client: Client, owner: Account, saltgrass: Line
) -> None:
    mother = visual(saltgrass, owner, "F-003", "female")
    plain = AnimalFactory.create(species=mother.species, code="F-004", sex="female")
    with writing(by=owner, what="Added") as book:
        animal = book.keep(Animal(species=mother.species, code="24-01", dam=plain))
    data = {
        "code": "24-01", "species": animal.species_id, "sex": "unknown", "status": "kept",
        "dam": "f-003", "reason": "the tags were swapped",
    }  # fmt: skip
    answer = owner_client.post(reverse("animals-edit", args=[animal.pk]), data)
    entry = DaybookEntry.objects.order_by("-pk")[0]
    assert answer["Location"].endswith(f"?moved={entry.pk}")
    assert (entry.what, entry.reason) == ("Changed dam of 24-01", "the tags were swapped")
    change = StandingChange.objects.get(entry=entry, animal=animal, line=saltgrass)
    assert (change.word_before, change.word) == ("", "parentage")
    page = owner_client.get(reverse("animals-history", args=[animal.pk])).content.decode()
    assert "F-004" in page and "F-003" in page and "the tags were swapped" in page


def test_an_animal_moved_to_another_clutch_leaves_its_old_row(
    owner_client: Client, owner: Account, saltgrass: Line
) -> None:
    dam, sire = het(saltgrass, owner), visual(saltgrass, owner)
    clutch = hatch(dam, sire, saltgrass, shown=2, plain=0, by=owner)
    other = hatch(
        visual(saltgrass, owner, "F-9", "female"), sire, saltgrass, shown=1, plain=0, by=owner
    )
    row = HatchRow.objects.get(clutch=clutch)
    with writing(by=owner, what="Recorded one") as book:
        animal = book.keep(Animal(species=dam.species, code="24-01", clutch=clutch, hatch_row=row))
    data = {
        "code": "24-01", "species": animal.species_id, "sex": "unknown", "status": "kept",
        "clutch_code": other.code,
    }  # fmt: skip
    owner_client.post(reverse("animals-edit", args=[animal.pk]), data)
    animal.refresh_from_db()
    row.refresh_from_db()
    assert (animal.clutch, animal.hatch_row, row.count) == (other, None, 1)


def test_a_refused_change_keeps_what_was_typed(
    owner_client: Client, owner: Account, saltgrass: Line
) -> None:
    animal = het(saltgrass, owner)
    data = {
        "code": "F-014", "species": animal.species_id, "sex": "female", "status": "kept",
        "place": "rack B", "sire": "F-014",
    }  # fmt: skip
    page = owner_client.post(reverse("animals-edit", args=[animal.pk]), data).content.decode()
    assert (
        "F-014 is not recorded as male. Correct its sex, or choose another." in page
        and 'value="rack B"' in page
    )


def test_withdrawing_needs_a_reason_and_nothing_that_rests_on_it(
    owner_client: Client, owner: Account, saltgrass: Line
) -> None:
    dam, sire = het(saltgrass, owner), visual(saltgrass, owner)
    hatch(dam, sire, saltgrass, shown=1, plain=0, by=owner)
    address = reverse("animals-withdraw", args=[dam.pk])
    assert "This field is required" in owner_client.post(address).content.decode()
    page = owner_client.post(address, {"reason": "entered twice"}).content.decode()
    assert "F-014 stays in the book: it is the dam of C-F-014. Correct that first." in page
    assert not Animal.objects.get(pk=dam.pk).is_withdrawn


def test_a_withdrawn_animal_is_restored_unless_its_code_is_taken(
    owner_client: Client, owner: Account, saltgrass: Line
) -> None:
    animal = het(saltgrass, owner)
    owner_client.post(reverse("animals-withdraw", args=[animal.pk]), {"reason": "entered twice"})
    assert not Standing.objects.filter(animal=animal).exists()
    rival = AnimalFactory.create(species=animal.species, code="F-014")
    restore = reverse("animals-restore", args=[animal.pk])
    page = owner_client.post(restore, follow=True).content.decode()
    assert "This code is in use already. Choose another." in page
    rival.delete()
    owner_client.post(restore)
    assert not Animal.objects.get(pk=animal.pk).is_withdrawn
    assert Standing.objects.filter(animal=animal, line=saltgrass).exists()


def test_a_look_is_logged_and_how_far_one_looked_is_remembered(
    owner_client: Client, owner: Account, saltgrass: Line
) -> None:
    animal = het(saltgrass, owner)
    data = {"unseen": saltgrass.trait_id, "scope": "part", "on": "2024-05-01"}
    answer = owner_client.post(reverse("animals-observe", args=[animal.pk]), data)
    look = Observation.objects.get()
    assert (look.seen, look.by, str(look.on)) == ("no", owner, "2024-05-01")
    page = owner_client.get(answer["Location"]).content.decode()
    assert '<input type="radio" name="scope" value="part" required id="id_scope_1" checked>' in page


def test_a_look_without_an_answer_is_asked_again(
    owner_client: Client, owner: Account, saltgrass: Line
) -> None:
    animal = het(saltgrass, owner)
    data = {"seen": saltgrass.trait_id, "on": "2024-05-01", "note": "in shed"}
    page = owner_client.post(reverse("animals-observe", args=[animal.pk]), data).content.decode()
    assert "This field is required." in page and 'value="in shed"' in page


def test_a_corrected_look_moves_the_numbers(
    owner_client: Client, owner: Account, saltgrass: Line
) -> None:
    animal = visual(saltgrass, owner)
    look = Observation.objects.get()
    data = {"trait": saltgrass.trait_id, "seen": "unsure", "on": "2021-01-01", "reason": "dim"}
    owner_client.post(reverse("animals-observation", args=[look.pk]), data)
    look.refresh_from_db()
    assert (look.seen, look.by) == ("unsure", owner)
    change = StandingChange.objects.filter(animal=animal, line=None).latest("pk")
    assert (change.word_before, change.word) == ("visual", "stated")


@pytest.mark.parametrize("kind", ["observation", "statement"])
def test_a_record_is_withdrawn_and_restored(
    owner_client: Client, owner: Account, saltgrass: Line, kind: str
) -> None:
    animal = visual(saltgrass, owner)
    record: Any = (Observation if kind == "observation" else Statement).objects.get()
    away = reverse("animals-record-withdraw", args=[kind, record.pk])
    back = reverse("animals-record-restore", args=[kind, record.pk])
    assert "It stays readable" not in owner_client.get(away).content.decode()
    owner_client.post(away, {"reason": "of another animal"})
    record.refresh_from_db()
    assert record.withdrawn_reason == "of another animal"
    page = owner_client.get(reverse("animals-one", args=[animal.pk])).content.decode()
    assert "withdrawn: of another animal" in page
    owner_client.post(back)
    record.refresh_from_db()
    assert not record.is_withdrawn


def test_no_other_kind_of_record_is_withdrawn_by_this_address(
    owner_client: Client, owner: Account, saltgrass: Line
) -> None:
    assert owner_client.get(f"/animals/trait/{saltgrass.trait_id}/withdraw/").status_code == 404
