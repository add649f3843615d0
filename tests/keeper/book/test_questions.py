"""What looks odd is asked once, insisted on with one tap, and kept with the entry."""

import re
from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from keeper import models as m
from tests.factories import AnimalFactory, LineFactory, SpeciesFactory

LAID = date(2025, 7, 1)


@pytest.fixture
def species(db: None) -> m.Species:
    return SpeciesFactory.create(name="royal python", incubation_least=50, incubation_most=70)


@pytest.fixture
def dam(species: m.Species) -> m.Animal:
    return AnimalFactory.create(species=species, code="F-1", sex="female")


@pytest.fixture
def sire(species: m.Species) -> m.Animal:
    return AnimalFactory.create(species=species, code="M-1", sex="male")


def sent(**changed: Any) -> dict[str, Any]:
    return {
        "code": "25-01", "dam": "F-1", "sire_1": "M-1", "laid_on": LAID, "eggs": "6",
        "paternity": "one", **changed,
    }  # fmt: skip


def asked(answer: Any) -> list[str]:
    """What the page that came back asks."""
    assert answer.status_code == 200
    summary = re.search(r'<section class="faults asks".*?</section>', answer.content.decode(), re.S)
    assert summary, answer.content.decode()
    return re.findall(r"<li>(.*?)</li>", summary[0], re.S)


def fields_of(answer: Any, *names: str) -> dict[str, str]:
    """What hidden fields and buttons of the page that came back would send."""
    text = answer.content.decode()
    form = text[text.index('<form method="post" class="measure') :]
    return {
        name: found[1]
        for name in names
        if (found := re.search(rf'name="{name}" value="(.*?)"', form))
    }


def post(client: Client, data: dict[str, Any]) -> Any:
    return client.post(reverse("clutches-new"), data)


def test_what_looks_odd_is_asked_and_nothing_is_written(
    owner_client: Client, dam: m.Animal, sire: m.Animal
) -> None:
    answer = post(owner_client, sent(eggs="40", notes="Two days apart."))
    assert asked(answer) == ["40 eggs; of royal python 18 at most are expected."]
    assert "Save it all the same" in answer.content.decode()
    assert "Two days apart." in answer.content.decode()
    assert not m.Clutch.objects.exists() and not m.DaybookEntry.objects.exists()


def test_insisting_writes_and_is_kept(owner_client: Client, dam: m.Animal, sire: m.Animal) -> None:
    answer = post(owner_client, sent(eggs="40"))
    written = post(owner_client, sent(eggs="40", **fields_of(answer, "insist")))
    assert written.status_code == 302
    entry = m.DaybookEntry.objects.get()
    said = "40 eggs; of royal python 18 at most are expected."
    assert entry.insisted == said
    assert said in owner_client.get(reverse("daybook-entry", args=[entry.pk])).content.decode()
    assert "insisted on" in owner_client.get(reverse("daybook")).content.decode()


def test_insisting_twice_writes_once(owner_client: Client, dam: m.Animal, sire: m.Animal) -> None:
    answer = post(owner_client, sent(eggs="40", once="0" * 32))
    insisting = sent(eggs="40", **fields_of(answer, "insist", "once", "made_from"))
    assert insisting["once"] != "0" * 32
    first, second = post(owner_client, insisting), post(owner_client, insisting)
    assert (first.status_code, second.status_code) == (302, 302)
    assert second["Location"] == first["Location"]
    assert m.Clutch.objects.count() == m.DaybookEntry.objects.count() == 1


def test_what_was_insisted_on_is_not_asked_again_while_the_form_is_mended(
    owner_client: Client, dam: m.Animal, sire: m.Animal
) -> None:
    answer = post(owner_client, sent(eggs="40"))
    answer = post(owner_client, sent(eggs="40", code="", **fields_of(answer, "insist")))
    assert "1 thing to mend" in answer.content.decode()
    assert post(owner_client, sent(eggs="40", **fields_of(answer, "insist"))).status_code == 302


def test_another_value_is_asked_anew(owner_client: Client, dam: m.Animal, sire: m.Animal) -> None:
    answer = post(owner_client, sent(eggs="40"))
    answer = post(owner_client, sent(eggs="50", **fields_of(answer, "insist")))
    assert asked(answer) == ["50 eggs; of royal python 18 at most are expected."]


def test_correction_from_a_stale_page_is_refused_though_it_insists(
    owner_client: Client, dam: m.Animal, sire: m.Animal
) -> None:
    post(owner_client, sent())
    clutch = m.Clutch.objects.get()
    page = reverse("clutches-edit", args=[clutch.pk])
    stale = owner_client.get(page)
    kept = fields_of(stale, "made_from")
    assert owner_client.post(page, sent(eggs="7", **kept)).status_code == 302
    answer = owner_client.post(page, sent(eggs="40", **kept))
    assert "to mend" in answer.content.decode()
    again = owner_client.post(page, sent(eggs="40", **kept, insist="0" * 16))
    assert again.status_code == 200
    clutch.refresh_from_db()
    assert clutch.eggs == 7


def test_absurd_count_is_refused(owner_client: Client, dam: m.Animal, sire: m.Animal) -> None:
    answer = post(owner_client, sent(eggs="999999999"))
    assert answer.context["form"].errors == {
        "eggs": ["Ensure this value is less than or equal to 1000."]
    }


def test_the_same_clutch_twice_is_asked(
    owner_client: Client, dam: m.Animal, sire: m.Animal
) -> None:
    assert post(owner_client, sent()).status_code == 302
    assert asked(post(owner_client, sent(code="25-02"))) == [
        "Clutch 25-01 is of the same parents, laid on the same day, with as many eggs. "
        "Hatched both, the same young would count twice."
    ]
    other_day = post(owner_client, sent(code="25-11", laid_on=date(2025, 7, 2)))
    assert other_day.status_code == 302


@pytest.mark.parametrize("other", [{"eggs": "5"}, {"sire_1": ""}])
def test_two_who_enter_one_clutch_and_count_apart_are_told(
    owner_client: Client, dam: m.Animal, sire: m.Animal, other: dict[str, str]
) -> None:
    assert post(owner_client, sent()).status_code == 302
    answer = post(owner_client, sent(code="25-02", **other))
    assert asked(answer) == [
        f"Clutch 25-01 is of {dam} too, laid on the same day. Is this another one? Of one clutch "
        "entered twice the same young would count twice."
    ]
    again = sent(code="25-02", **other, **fields_of(answer, "insist"))
    assert post(owner_client, again).status_code == 302


@pytest.mark.parametrize(
    ("born", "year", "said"),
    [
        (date(2024, 1, 10), None, "F-1 was 17 months old when the clutch was laid; "
         "royal python breed from 36 months."),
        (None, 2023, "F-1 was 30 months old when the clutch was laid; "
         "royal python breed from 36 months."),
        (None, 2022, ""), (date(2022, 7, 1), None, ""), (None, None, ""),
    ],
)  # fmt: skip
def test_dam_too_young_is_asked_and_of_unknown_age_nothing(
    owner_client: Client, dam: m.Animal, sire: m.Animal, born: Any, year: Any, said: str
) -> None:
    m.Animal.objects.filter(pk=dam.pk).update(hatched_on=born, hatched_year=year)
    answer = post(owner_client, sent())
    assert (asked(answer) if said else answer.status_code) == ([said] if said else 302)


@pytest.mark.parametrize(
    ("status", "since", "said"),
    [
        ("died", date(2025, 6, 1), "F-1 died on 1 June 2025, before the clutch was laid."),
        ("sold", date(2025, 6, 1), "F-1 was sold on 1 June 2025, before the clutch was laid."),
        ("lent", date(2025, 6, 1), "F-1 was lent on 1 June 2025, before the clutch was laid."),
        ("sold", date(2025, 8, 1), ""), ("died", None, ""), ("kept", date(2025, 6, 1), ""),
    ],
)  # fmt: skip
def test_dam_that_was_not_here_is_asked(
    owner_client: Client, dam: m.Animal, sire: m.Animal, status: str, since: Any, said: str
) -> None:
    m.Animal.objects.filter(pk=dam.pk).update(status=status, status_since=since)
    answer = post(owner_client, sent())
    assert (asked(answer) if said else answer.status_code) == ([said] if said else 302)


def test_code_of_another_year_or_of_an_animal_is_asked(
    owner_client: Client, dam: m.Animal, sire: m.Animal
) -> None:
    AnimalFactory.create(code="24-01")
    assert asked(post(owner_client, sent(code="24-01"))) == [
        "24-01 reads as a clutch of 2024, and it was laid in 2025.",
        "An animal has the code 24-01 too.",
    ]


def test_sire_that_hatched_after_it_was_laid_is_asked(
    owner_client: Client, dam: m.Animal, sire: m.Animal
) -> None:
    m.Animal.objects.filter(pk=sire.pk).update(hatched_on=date(2025, 8, 1))
    assert asked(post(owner_client, sent())) == [
        "M-1 hatched on 1 August 2025, and the clutch was laid before."
    ]


@pytest.mark.parametrize(
    ("days", "said"),
    [
        (49, "49 days from laying to hatching; of royal python 50 to 70 are expected."),
        (50, ""), (70, ""),
        (71, "71 days from laying to hatching; of royal python 50 to 70 are expected."),
    ],
)  # fmt: skip
def test_incubation_beyond_the_species_is_asked_on_hatch_day(
    owner_client: Client, dam: m.Animal, sire: m.Animal, days: int, said: str
) -> None:
    post(owner_client, sent())
    clutch = m.Clutch.objects.get()
    page = reverse("clutches-hatch", args=[clutch.pk])
    basis = owner_client.get(page).context["plan"].basis
    day = date.fromordinal(LAID.toordinal() + days)
    data = {
        "hatched_on": day, "eggs": "6", "slugs": "6", "lost": "0", "scope": "part", "basis": basis
    }  # fmt: skip
    answer = owner_client.post(page, data)
    assert (asked(answer) if said else answer.status_code) == ([said] if said else 302)


def test_young_that_hatched_before_their_clutch_was_laid_are_asked(
    owner_client: Client, dam: m.Animal, sire: m.Animal
) -> None:
    post(owner_client, sent())
    clutch = m.Clutch.objects.get()
    AnimalFactory.create(
        species=dam.species, code="25-01-01", clutch=clutch, hatched_on=date(2025, 8, 1)
    )
    page = reverse("clutches-edit", args=[clutch.pk])
    assert asked(owner_client.post(page, sent(laid_on=date(2025, 9, 1)))) == [
        "25-01-01 of this clutch hatched on 1 August 2025, before it was laid."
    ]


def test_clutch_of_nobody_is_refused(owner_client: Client, dam: m.Animal, sire: m.Animal) -> None:
    answer = post(owner_client, sent(dam="", sire_1=""))
    assert answer.context["form"].errors == {
        "dam": [
            "Name the dam or a sire. Of a female that came gravid the dam is known, the sire not."
        ]
    }
    assert post(owner_client, sent(sire_1="")).status_code == 302


def test_swapped_parents_are_swapped_with_one_tap(
    owner_client: Client, dam: m.Animal, sire: m.Animal
) -> None:
    answer = post(owner_client, sent(dam="M-1", sire_1="f-1"))
    assert "Swap them: dam f-1, sire M-1" in answer.content.decode()
    instead = fields_of(answer, "instead")["instead"].replace("&amp;", "&")
    assert post(owner_client, sent(dam="M-1", sire_1="f-1", instead=instead)).status_code == 302
    clutch = m.Clutch.objects.get()
    assert (clutch.dam, m.CandidateSire.objects.get().sire) == (dam, sire)


def test_an_animal_of_unknown_sex_is_not_offered_to_swap(
    owner_client: Client, dam: m.Animal, sire: m.Animal
) -> None:
    AnimalFactory.create(species=dam.species, code="U-1")
    answer = post(owner_client, sent(dam="U-1", sire_1="F-1"))
    assert "Swap them" not in answer.content.decode()


def animal(**changed: Any) -> dict[str, Any]:
    rows = {f"{name}-{key}": value for name in ("said", "seen") for key, value in (
        ("TOTAL_FORMS", "0"), ("INITIAL_FORMS", "0"))}  # fmt: skip
    return {
        "code": "F-9",
        "sex": "female",
        "status": "kept",
        "look-scope": "part",
        **rows,
        **changed,
    }


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"hatched_on": "2199-01-02"}, "It hatched on 2 January 2199, which is still to come."),
        ({"hatched_year": "2199"}, "It hatched in 2199, which is still to come."),
        ({"acquired_on": "2199-01-02"},
         "It was acquired on 2 January 2199, which is still to come."),
        ({"hatched_year": "2025", "acquired_on": "2024-05-05"},
         "It was acquired in 2024 and hatched in 2025."),
        ({"code": "F-\u0410"},
         "The code F-\u0410 has letters of two alphabets: Cyrillic and Latin."),
    ],
)  # fmt: skip
def test_animal_of_odd_days_or_letters_is_asked(
    owner_client: Client, species: m.Species, typed: dict[str, str], said: str
) -> None:
    answer = owner_client.post(reverse("animals-new"), animal(species=species.pk, **typed))
    assert asked(answer)[0] == said


def test_code_that_looks_like_anothers_is_asked(owner_client: Client, dam: m.Animal) -> None:
    AnimalFactory.create(code="A-1")
    typed = animal(species=dam.species_id, code="\u0410-1")
    assert asked(owner_client.post(reverse("animals-new"), typed)) == [
        "The code \u0410-1 looks like A-1, which is in the book as well, and is not: "
        "it has letters that are Cyrillic."
    ]


def test_acquired_before_it_hatched_is_refused_as_before(
    owner_client: Client, species: m.Species
) -> None:
    typed = animal(species=species.pk, hatched_on="2025-01-02", acquired_on="2025-01-01")
    answer = owner_client.post(reverse("animals-new"), typed)
    assert "It was acquired before it hatched." in answer.content.decode()


def test_report_number_that_the_book_has_is_asked(owner_client: Client, dam: m.Animal) -> None:
    line = LineFactory.create(trait__species=dam.species, trait__name="Saltgrass", code="HAR")
    second = LineFactory.create(trait=line.trait, code="PEL")
    cove = m.Laboratory.objects.create(name="Cove")
    other = m.Laboratory.objects.create(name="Reach")
    sister = AnimalFactory.create(species=dam.species, code="F-2", sex="female")

    def result(on: m.Animal, of: m.Line, at: m.Laboratory) -> Any:
        return owner_client.post(
            reverse("animals-lab-test-new", args=[on.pk]),
            {"line": of.pk, "found": "one", "on": "2025-05-05", "number": "R-7",
             "laboratory": at.pk},
        )  # fmt: skip

    assert result(dam, line, cove).status_code == 302
    assert result(dam, second, cove).status_code == 302  # one report, two lines
    assert result(sister, line, other).status_code == 302
    said = ["The book has R-7 of Cove already: one copy of Saltgrass HAR in F-1."]
    assert asked(result(sister, line, cove)) == said
    assert asked(result(dam, line, cove)) == said
