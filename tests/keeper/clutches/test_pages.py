"""Clutches: entering, listing, correcting, withdrawing."""

import re

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keeper import models as m
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import Refused
from keeper.domain.clutches import queries
from keeper.domain.clutches import writes as domain
from keeper.domain.clutches.writes import Candidate
from keeper.models import Account
from tests.factories import AnimalFactory, ClutchFactory, SpeciesFactory
from tests.keeper.animals.rows import hatch, het, saltgrass_har, visual


@pytest.fixture
def species(db: None) -> m.Species:
    return SpeciesFactory.create(name="royal python")


@pytest.fixture
def dam(species: m.Species) -> m.Animal:
    return AnimalFactory.create(species=species, code="F-014", sex="female")


@pytest.fixture
def sire(species: m.Species) -> m.Animal:
    return AnimalFactory.create(species=species, code="M-003", sex="male")


def sires_of(clutch: m.Clutch) -> list[tuple[str, str]]:
    rows = m.CandidateSire.objects.live().filter(clutch=clutch)
    return [(str(row), str(row.share)) for row in rows]


# --- entering ----------------------------------------------------------------------------------


def test_new_clutch_is_kept_with_its_parents(
    owner_client: Client, dam: m.Animal, sire: m.Animal
) -> None:
    answer = owner_client.post(
        reverse("clutches-new"),
        {"code": "26-07", "dam": "f-014", "sire_1": "M-003", "eggs": "8", "paternity": "one"},
    )
    clutch = m.Clutch.objects.get()
    assert answer["Location"].startswith(reverse("clutches-one", args=[clutch.pk]))
    assert (clutch.dam, clutch.eggs, clutch.slugs, clutch.lost) == (dam, 8, 0, 0)
    assert sires_of(clutch) == [("M-003", "1")]
    entry = m.DaybookEntry.objects.get()
    assert (entry.what, entry.subject_id) == ("Clutch 26-07 of F-014 × M-003", clutch.pk)


def test_new_clutch_takes_several_candidates_in_shares(
    owner_client: Client, dam: m.Animal, sire: m.Animal
) -> None:
    AnimalFactory.create(species=dam.species, code="M-004", sex="male")
    owner_client.post(
        reverse("clutches-new"),
        {
            **{"code": "26-07", "dam": "F-014", "paternity": "each"},
            **{"sire_1": "M-003", "share_1": "3/5", "sire_2": "M-004", "share_2": "30 %"},
            **{"unrecorded": "on", "unrecorded_share": "10 %"},
        },
    )
    clutch = m.Clutch.objects.get()
    assert clutch.paternity == "each"
    assert sires_of(clutch) == [
        ("M-003", "3/5"),
        ("M-004", "3/10"),
        ("a male not recorded", "1/10"),
    ]


def test_new_clutch_is_prefilled_from_a_pair(
    owner_client: Client, dam: m.Animal, sire: m.Animal
) -> None:
    ClutchFactory.create(dam=dam, code=f"{timezone.localdate():%y}-11")
    page = owner_client.get(reverse("clutches-new"), {"dam": dam.pk, "sire": sire.pk})
    form = page.context["form"]
    assert form.initial["code"] == f"{timezone.localdate():%y}-12"
    shown = page.content.decode()
    assert 'value="F-014"' in shown and 'value="M-003"' in shown


@pytest.mark.parametrize(
    ("typed", "field", "message"),
    [
        (
            {"dam": "F-01"},
            "dam",
            "No animal has the code “F-01”. Did you mean F-014?",
        ),
        (
            {"dam": "M-003"},
            "dam",
            ("M-003 is not recorded as female. Correct its sex, or choose another."),
        ),
        ({"sire_1": "M-003", "sire_2": "M-003"}, "sire_2", "M-003 is named twice. Keep one."),
        ({"sire_1": "C-1"}, "sire_1", "C-1 is a corn snake. Choose one of its species."),
        ({"sire_1": "M-003", "share_1": "a lot"}, "share_1", None),
        (
            {"laid_on": "2999-01-01"},
            "laid_on",
            "That day is still to come. Enter today or an earlier day.",
        ),
        ({"code": "26-01"}, "code", "The code 26-01 is in use already. Choose another."),
        (
            {"eggs": "2", "slugs": "3"},
            "eggs",
            "Slugs (3) and lost (0) are more than the eggs (2). Correct one of the three.",
        ),
    ],
)
def test_new_clutch_says_what_is_wrong_and_keeps_what_was_typed(
    owner_client: Client,
    dam: m.Animal,
    sire: m.Animal,
    typed: dict[str, str],
    field: str,
    message: str | None,
) -> None:
    corn = SpeciesFactory.create(name="corn snake")
    AnimalFactory.create(species=corn, code="C-1", sex="male")
    ClutchFactory.create(dam=dam, code="26-01")
    posted = {"code": "26-07", "dam": "F-014", "paternity": "one", "notes": "typed", **typed}
    page = owner_client.post(reverse("clutches-new"), posted)
    assert page.status_code == 200
    said = page.context["form"].errors
    assert list(said) == [field]
    if message:
        assert said[field] == [message]
    assert "typed</textarea>" in page.content.decode()
    assert m.Clutch.objects.count() == 1


# --- correcting --------------------------------------------------------------------------------


def test_correcting_a_clutch_keeps_the_reason_and_can_be_undone(
    owner_client: Client, owner: Account, dam: m.Animal, sire: m.Animal
) -> None:
    other = AnimalFactory.create(species=dam.species, code="M-004", sex="male")
    clutch = m.Clutch(species=dam.species, code="26-07", dam=dam, eggs=6)
    domain.lay_clutch(clutch=clutch, candidates=[Candidate(sire)], by=owner)
    page = owner_client.get(reverse("clutches-edit", args=[clutch.pk]))
    assert 'value="M-003"' in page.content.decode()
    owner_client.post(
        reverse("clutches-edit", args=[clutch.pk]),
        {
            **{"code": "26-07", "dam": "F-014", "sire_1": "M-004", "eggs": "7"},
            **{"paternity": "one", "reason": "read the wrong tub"},
        },
    )
    clutch.refresh_from_db()
    assert (clutch.eggs, sires_of(clutch)) == (7, [("M-004", "1")])
    entry = m.DaybookEntry.objects.latest("pk")
    assert (entry.what, entry.reason) == ("Changed clutch 26-07", "read the wrong tub")
    undo(entry=entry, by=owner)
    clutch.refresh_from_db()
    assert (clutch.eggs, sires_of(clutch)) == (6, [("M-003", "1")])
    assert not other.sired.filter(withdrawn_at=None).exists()


def test_withdrawn_clutch_can_be_restored(owner_client: Client, dam: m.Animal) -> None:
    clutch = ClutchFactory.create(dam=dam)
    address = reverse("clutches-withdraw", args=[clutch.pk])
    assert owner_client.post(address, {"reason": ""}).context["form"].errors == {
        "reason": ["This field is required."]
    }
    owner_client.post(address, {"reason": "never laid"})
    clutch.refresh_from_db()
    assert (clutch.is_withdrawn, clutch.withdrawn_reason) == (True, "never laid")
    page = owner_client.get(reverse("clutches-one", args=[clutch.pk])).content.decode()
    assert "never laid" in page and "Log the hatch" not in page
    owner_client.post(address)
    clutch.refresh_from_db()
    assert not clutch.is_withdrawn


def test_clutch_with_recorded_young_is_not_withdrawn(owner: Account, dam: m.Animal) -> None:
    clutch = ClutchFactory.create(dam=dam, code="26-07")
    for code in ("26-07-01", "26-07-02"):
        AnimalFactory.create(species=dam.species, clutch=clutch, code=code)
    with pytest.raises(Refused) as refused:
        domain.withdraw_clutch(clutch=clutch, reason="wrong", by=owner)
    assert str(refused.value) == (
        "26-07-01, 26-07-02 hatched from 26-07. Withdraw them or correct their parents first."
    )


def test_clutch_whose_code_was_taken_is_not_restored(owner: Account, dam: m.Animal) -> None:
    clutch = ClutchFactory.create(dam=dam, code="26-07", withdrawn_at=timezone.now())
    ClutchFactory.create(dam=dam, code="26-07")
    with pytest.raises(ValidationError) as refused:
        domain.restore_clutch(clutch=clutch, by=owner)
    assert refused.value.messages == ["This code is in use already. Choose another."]


# --- the list ----------------------------------------------------------------------------------


@pytest.fixture
def four(dam: m.Animal, sire: m.Animal) -> list[m.Clutch]:
    """One in the incubator, one hatching, one hatched, one withdrawn."""
    laid = ClutchFactory.create(dam=dam, code="26-02", laid_on="2026-05-01", eggs=5)
    m.CandidateSire.objects.create(clutch=laid, sire=sire)
    opened = ClutchFactory.create(
        dam=dam, code="26-01", laid_on="2026-04-01", hatched_on="2026-06-01", eggs=5
    )
    done = ClutchFactory.create(
        **{"dam": dam, "code": "25-01", "laid_on": "2025-04-01", "hatched_on": "2025-06-01"},
        **{"eggs": 5, "slugs": 1, "lost": 1, "test_breeding": True},
    )
    for clutch in (opened, done):
        m.HatchRow.objects.create(clutch=clutch, count=3)
    gone = ClutchFactory.create(dam=dam, code="24-01", withdrawn_at=timezone.now())
    return [laid, opened, done, gone]


@pytest.mark.parametrize(
    ("asked", "codes"),
    [
        ({}, ["26-02", "26-01", "25-01"]),
        ({"state": "laid"}, ["26-02"]),
        ({"state": "open"}, ["26-01"]),
        ({"state": "hatched"}, ["25-01"]),
        ({"state": "withdrawn"}, ["24-01"]),
        ({"season": "2026"}, ["26-02", "26-01"]),
        ({"test": "on"}, ["25-01"]),
        ({"q": "m-003"}, ["26-02"]),
        ({"q": "f-014 26"}, ["26-02", "26-01"]),
        ({"q": "nothing so"}, []),
        ({"order": "oldest"}, ["25-01", "26-01", "26-02"]),
        ({"order": "hatched", "state": "open"}, ["26-01"]),
        ({"season": "1815", "page": "x"}, ["26-02", "26-01", "25-01"]),
    ],
)
def test_list_shows_what_its_filters_ask(
    owner_client: Client, four: list[m.Clutch], asked: dict[str, str], codes: list[str]
) -> None:
    for headers in ({}, {"HX-Request": "true"}):
        page = owner_client.get(reverse("clutches"), asked, headers=headers)
        shown = page.content.decode()
        assert re.findall(r'<th scope="row"><a href="[^"]+">([^<]+)</a>', shown) == codes
        assert ("<html" in shown) is not bool(headers)


def test_list_is_given_as_a_file(owner_client: Client, four: list[m.Clutch]) -> None:
    m.Clutch.objects.filter(code="25-01").update(code="=25-01")
    answer = owner_client.get(reverse("clutches-file"), {"season": "2025"})
    assert answer["Content-Type"] == "text/csv"
    lines = b"".join(answer).decode("utf-8-sig").splitlines()
    assert lines[0].startswith("clutch,species,dam,candidate sires,laid")
    assert lines[1:] == ["'=25-01,royal python,F-014,,2025-04-01,2025-06-01,5,1,1,3,yes"]


def test_empty_list_says_what_to_do_first(owner_client: Client) -> None:
    page = owner_client.get(reverse("clutches")).content.decode()
    assert "No clutch is written down yet" in page
    assert "First, the animals." in owner_client.get(reverse("clutches-new")).content.decode()


def test_codes_go_on_where_the_season_stands(dam: m.Animal) -> None:
    ClutchFactory.create(dam=dam, code="26-09")
    ClutchFactory.create(dam=dam, code="26-10", withdrawn_at=timezone.now())
    ClutchFactory.create(dam=dam, code="26-late")
    assert queries.next_clutch_code(2026) == "26-11"
    assert queries.next_clutch_code(2027) == "27-01"


# --- choosing animals --------------------------------------------------------------------------


def test_pick_lists_codes_that_begin_so_first(owner_client: Client, dam: m.Animal) -> None:
    for code, sex in (("X-F-01", "female"), ("F-02", "female"), ("F-03", "male")):
        AnimalFactory.create(species=dam.species, code=code, sex=sex)
    page = owner_client.get(
        reverse("clutches-pick"), {"sex": "female", "field": "dam", "dam": "f-0"}
    )
    assert [animal.code for animal in page.context["picks"]] == ["F-014", "F-02", "X-F-01"]


def test_pick_offers_a_few_of_many(owner_client: Client, species: m.Species) -> None:
    AnimalFactory.create_batch(30, species=species, sex="male")
    page = owner_client.get(reverse("clutches-pick"), {"sex": "male", "field": "dam"})
    assert len(page.context["picks"]) == 12


def test_clutch_and_pairing_say_whose_the_figure_beside_a_founders_is(
    owner_client: Client, owner: Account
) -> None:
    line = saltgrass_har()
    dam, sire = het(line, owner), visual(line, owner)
    clutch = hatch(dam, sire, line, shown=1, plain=2, by=owner)
    for address in (
        reverse("clutches-one", args=[clutch.pk]),
        f"{reverse('clutches-pairing')}?dam={dam.pk}&sire={sire.pk}",
    ):
        text = owner_client.get(address).content.decode()
        assert ("66 % by its source alone" in text, "by its parents" in text) == (True, False)
