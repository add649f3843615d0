"""Hatch day: counts that add up, sightings, records in series, corrections, what moves."""

from collections.abc import Callable
from typing import Any

import pytest
from django.template.loader import render_to_string
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from django.utils.html import escape

from keeper import models as m
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import Refused, writing
from keeper.domain.clutches.hatching import Hatch, does_not_add_up, record_hatchling, series
from keeper.models import Account
from keeper.pages.clutches.hatch_forms import LookFields
from tests.factories import (
    AnimalFactory,
    ClutchFactory,
    LineFactory,
    SpeciesFactory,
    TraitFactory,
)

TODAY = timezone.localdate()


@pytest.fixture
def species(db: None) -> m.Species:
    return SpeciesFactory.create(name="royal python")


@pytest.fixture
def saltgrass(species: m.Species) -> m.Trait:
    """A recessive trait with one line."""
    trait = TraitFactory.create(species=species, name="Saltgrass")
    LineFactory.create(trait=trait, code="HAR", name="Harvesk")
    return trait


@pytest.fixture
def clutch(species: m.Species, saltgrass: m.Trait, owner: Account) -> m.Clutch:
    """A possible het 66 % with a visual male: a test of her."""
    dam = AnimalFactory.create(species=species, code="F-014", sex="female")
    sire = AnimalFactory.create(species=species, code="M-003", sex="male")
    clutch = ClutchFactory.create(dam=dam, code="26-07", eggs=8, test_breeding=True)
    line = saltgrass.lines.get()
    with writing(by=owner, what="as bought") as book:
        for animal, claim, chance in ((dam, "possible", "2/3"), (sire, "visual", None)):
            said = m.Statement(animal=animal, trait=saltgrass, line=line, claim=claim)
            said.chance = chance
            book.keep(said)
        book.keep(m.CandidateSire(clutch=clutch, sire=sire))
    return clutch


Post = Callable[..., Any]


@pytest.fixture
def post(owner_client: Client, clutch: m.Clutch) -> Post:
    """Return how to send the form of the clutch's hatch day as it stands, with changes.

    What is looked for is what the form offers, unless a test says otherwise.
    """
    address = reverse("clutches-hatch", args=[clutch.pk])

    def sent(**typed: Any) -> Any:
        form = owner_client.get(address).context["form"]
        shown = {field.html_name: field.value() for field in form}
        shown = {name: value for name, value in shown.items() if value not in (None, False)}
        basis = {"basis": form.plan.basis, "scope": "part"}
        return owner_client.post(address, {**shown, **basis, **typed})

    return sent


def rows_of(clutch: m.Clutch) -> list[tuple[str, int, dict[str, bool]]]:
    return [
        (
            row.sex,
            row.count,
            {str(one.trait): one.seen for one in m.RowSighting.objects.live().filter(row=row)},
        )
        for row in m.HatchRow.objects.live().filter(clutch=clutch)
    ]


def errors(page: Any) -> dict[str, list[str]]:
    assert page.status_code == 200
    return {name: list(said) for name, said in page.context["form"].errors.items()}


# --- what is offered ---------------------------------------------------------------------------


def test_form_offers_the_looks_of_the_pairing_with_their_chances(
    owner_client: Client, clutch: m.Clutch
) -> None:
    page = owner_client.get(reverse("clutches-hatch", args=[clutch.pk]))
    looks = page.context["plan"].looks
    assert [look.name for look in looks] == ["normal", "Saltgrass"]
    assert [look.chance for look in looks] == pytest.approx([2 / 3, 1 / 3])
    assert "33 %" in page.content.decode()
    assert page.context["form"]["hatched_on"].value() == TODAY


def test_form_of_a_clutch_without_a_dam_counts_without_chances(
    owner_client: Client, clutch: m.Clutch
) -> None:
    m.Clutch.objects.update(dam=None)
    page = owner_client.get(reverse("clutches-hatch", args=[clutch.pk]))
    looks = page.context["plan"].looks
    assert [(look.name, look.chance) for look in looks] == [("normal", None), ("Saltgrass", None)]


@pytest.mark.parametrize("code", ["26-07", '"other-', '"id_other-7'])
def test_cells_of_a_look_of_which_nothing_is_logged_are_those_its_fields_would_give(
    owner_client: Client, clutch: m.Clutch, code: str
) -> None:
    m.Clutch.objects.update(code=code)
    page = owner_client.get(reverse("clutches-hatch", args=[clutch.pk]))
    form, shown = page.context["form"], page.content.decode()
    for look in form.plan.looks:
        fields = LookFields(look, form._cells(look.key, {}))
        written = render_to_string("clutches/cells.html", {"line": fields, "form": form})
        assert written in shown and f'name="{look.key}-female-first"' in written
        assert f"go on from {escape(form.next_code)}." in written
    other = reverse("clutches-hatch", args=[clutch.pk])
    kept = owner_client.post(other, {"look-normal-male-count": "4"}).content.decode()
    assert 'name="look-normal-male-count" value="4"' in kept


# --- saving ------------------------------------------------------------------------------------


def test_counts_are_kept_with_what_was_seen(
    post: Post, clutch: m.Clutch, saltgrass: m.Trait
) -> None:
    answer = post(
        **{"look-normal-male-count": "2", "look-normal-unknown-count": "1"},
        **{f"look-{saltgrass.pk}-female-count": "3", "slugs": "1", "lost": "1"},
    )
    entry = m.DaybookEntry.objects.latest("pk")
    assert answer.url == f"{reverse('clutches-one', args=[clutch.pk])}?moved={entry.pk}"
    assert rows_of(clutch) == [
        ("male", 2, {"Saltgrass": False}),
        ("unknown", 1, {"Saltgrass": False}),
        ("female", 3, {"Saltgrass": True}),
    ]
    clutch.refresh_from_db()
    assert (clutch.slugs, clutch.lost, clutch.hatched_on) == (1, 1, TODAY)
    assert entry.what == "Hatch of 26-07: 2.3.1 hatched, 1 slug, 1 lost"
    assert (m.Animal.objects.count(), m.Observation.objects.count()) == (2, 0)


def test_a_visual_hatchling_proves_the_dam_and_undo_takes_it_back(
    post: Post, clutch: m.Clutch, saltgrass: m.Trait, owner: Account, owner_client: Client
) -> None:
    def dam_now() -> tuple[str, float]:
        one = m.Standing.objects.get(animal__code="F-014", trait=saltgrass, line=None)
        return one.word, one.none

    before = dam_now()
    assert before[0] == "stated"
    assert before[1] == pytest.approx(1 / 3)
    answer = post(**{f"look-{saltgrass.pk}-unknown-count": "1", "look-normal-unknown-count": "7"})
    assert dam_now() == ("proven", 0)
    page = owner_client.get(answer.url).content.decode()
    assert "F-014" in page and "→ <strong>proven</strong>" in page and "Undo" in page
    assert "<strong>1 of 8</strong> showed Saltgrass" in page
    undo(entry=m.DaybookEntry.objects.latest("pk"), by=owner)
    assert dam_now() == before
    assert rows_of(clutch) == []
    clutch.refresh_from_db()
    assert clutch.hatched_on is None


def test_a_clean_test_breeding_says_what_it_told(
    post: Post, clutch: m.Clutch, owner_client: Client
) -> None:
    answer = post(**{"look-normal-unknown-count": "8"})
    page = owner_client.get(answer.url).content.decode()
    assert "What this test breeding told" in page
    assert "<strong>0 of 8</strong> showed Saltgrass" in page
    assert "tested clean so far, under 1 % left" in page
    one = m.Standing.objects.get(animal__code="F-014", line=None)
    assert one.two + one.one == pytest.approx(2 / (2 + 2**8))


def test_a_look_that_should_not_be_is_kept_all_the_same(
    post: Post, clutch: m.Clutch, saltgrass: m.Trait, owner_client: Client, species: m.Species
) -> None:
    quillwort = TraitFactory.create(species=species, name="Quillwort")
    LineFactory.create(trait=quillwort, code="PEL")
    answer = post(
        **{"other_seen": [quillwort.pk], "other-female-count": "1"},
        **{"look-normal-unknown-count": "7"},
    )
    assert ("female", 1, {"Saltgrass": False, "Quillwort": True}) in rows_of(clutch)
    page = owner_client.get(answer.url)
    assert [line.look for line in page.context["page"].hatched] == ["normal", "Quillwort"]
    assert m.Dispute.objects.filter(closed=None).count() == 1
    assert "These records contradict each other" in page.content.decode()
    again = owner_client.get(reverse("clutches-hatch", args=[clutch.pk]))
    shown = [(look.name, bool(look.rows)) for look in again.context["plan"].looks]
    assert ("Quillwort", True) in shown


def test_what_cannot_be_told_is_no_sighting(
    post: Post, clutch: m.Clutch, saltgrass: m.Trait, owner_client: Client
) -> None:
    post(
        **{"other_unsure": [saltgrass.pk], "other-unknown-count": "2"},
        **{"look-normal-unknown-count": "6"},
    )
    assert rows_of(clutch) == [("unknown", 6, {"Saltgrass": False}), ("unknown", 2, {})]
    again = owner_client.get(reverse("clutches-hatch", args=[clutch.pk])).context["plan"]
    assert [(look.name, [str(one) for one in look.unsure]) for look in again.looks] == [
        ("normal", []),
        ("Saltgrass", []),
        ("normal", ["Saltgrass"]),
    ]


def test_whole_look_at_a_hatch_keeps_a_row_a_look(
    post: Post, clutch: m.Clutch, saltgrass: m.Trait, owner_client: Client
) -> None:
    answer = post(
        **{"scope": "whole", "look-normal-male-count": "3", "look-normal-male-record": "3"},
        **{f"look-{saltgrass.pk}-female-count": "4", "other_unsure": [saltgrass.pk]},
        **{"other-unknown-count": "1"},
    )
    assert rows_of(clutch) == [
        ("male", 3, {}),
        ("female", 4, {"Saltgrass": True}),
        ("unknown", 1, {"Saltgrass": None}),
    ]
    assert m.HatchRow.objects.filter(whole=True).count() == 3
    # A record of its own has one record of the look at it.
    assert (m.Look.objects.count(), m.Observation.objects.count()) == (3, 0)
    page = owner_client.get(answer.url)
    assert [(line.look, line.unsure) for line in page.context["page"].hatched] == [
        ("normal", ""),
        ("Saltgrass", ""),
        ("normal", "Saltgrass"),
    ]
    assert "<strong>4 of 7</strong> showed Saltgrass" in page.content.decode()


def test_how_far_one_looked_must_be_chosen_and_is_remembered(
    post: Post, clutch: m.Clutch, owner_client: Client
) -> None:
    assert errors(post(**{"scope": "", "look-normal-male-count": "8"})) == {
        "scope": ["This field is required."]
    }
    post(**{"scope": "whole", "look-normal-male-count": "8"})
    again = owner_client.get(reverse("clutches-hatch", args=[clutch.pk])).context["form"]
    assert again["scope"].value() == "whole"


# --- what does not add up ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("eggs", "slugs", "lost", "hatched", "still_open", "said"),
    [
        (8, 2, 1, 5, False, None),
        (None, 2, 1, 6, False, None),
        (8, 2, 1, 4, True, None),
        (8, 2, 1, 6, False, "8 eggs, but 2 slugs + 1 lost + 6 hatched are 9."),
        (8, 2, 1, 6, True, "8 eggs, but 2 slugs + 1 lost + 6 hatched are 9."),
        (1, 1, 1, 0, False, "1 egg, but 1 slug + 1 lost + 0 hatched are 2."),
        (
            *(8, 2, 1, 4, False),
            "8 eggs, but 2 slugs + 1 lost + 4 hatched are 7. "
            "Say what became of the other 1, or that more may still hatch.",
        ),
    ],
)
def test_eggs_add_up_or_it_is_said_how_they_do_not(
    eggs: int | None, slugs: int, lost: int, hatched: int, still_open: bool, said: str | None
) -> None:
    class Counted(Hatch):
        @property
        def hatched(self) -> int:
            return hatched

    assert does_not_add_up(Counted(TODAY, eggs, slugs, lost, (), still_open)) == said


def test_form_that_does_not_add_up_keeps_what_was_typed(post: Post, clutch: m.Clutch) -> None:
    page = post(**{"look-normal-male-count": "6", "slugs": "2", "lost": "1"})
    assert errors(page) == {"__all__": ["8 eggs, but 2 slugs + 1 lost + 6 hatched are 9."]}
    assert page.context["form"]["look-normal-male-count"].value() == "6"
    assert (rows_of(clutch), m.DaybookEntry.objects.count()) == ([], 1)


def test_nothing_counted_is_said(post: Post, clutch: m.Clutch) -> None:
    m.Clutch.objects.update(eggs=None)
    assert errors(post()) == {
        "__all__": ["Nothing is counted yet: say what hatched, or what became of it."]
    }


def test_eggs_that_nobody_counted_are_what_became_of_them(post: Post, clutch: m.Clutch) -> None:
    post(**{"eggs": "", "look-normal-male-count": "3", "slugs": "2"})
    clutch.refresh_from_db()
    assert clutch.eggs == 5


def test_a_day_to_come_is_refused(post: Post, clutch: m.Clutch) -> None:
    page = post(**{"hatched_on": "2999-01-01", "look-normal-male-count": "8"})
    assert errors(page) == {
        "hatched_on": [("That day is still to come. Enter today or an earlier day.")]
    }


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (
            {"other-male-count": "1"},
            {"other_seen": ["Say what was seen on them, or what cannot be told."]},
        ),
        (
            {"other_seen": "SALT", "other-male-count": "1"},
            {"other_seen": ["Saltgrass stands above: count them there."]},
        ),
        (
            {"other_seen": "SALT", "other_unsure": "SALT", "other-male-count": "1"},
            {"other_unsure": ["A trait that was seen can be told. Take it out here."]},
        ),
        ({"other_unsure": "SALT"}, {"other-unknown-count": ["Say how many look so."]}),
    ],
)
def test_another_look_that_is_none_is_refused(
    post: Post, saltgrass: m.Trait, typed: dict[str, str], said: dict[str, list[str]]
) -> None:
    typed = {name: str(saltgrass.pk) if value == "SALT" else value for name, value in typed.items()}
    assert errors(post(**{"look-normal-male-count": "7", **typed})) == said


# --- several days, corrections -----------------------------------------------------------------


def test_a_hatch_over_several_days_is_added_to(post: Post, clutch: m.Clutch) -> None:
    m.Clutch.objects.update(laid_on="2020-01-01")
    post(
        **{"hatched_on": "2020-03-01", "look-normal-male-count": "3", "still_open": "on"},
    )
    clutch.refresh_from_db()
    assert (str(clutch.hatched_on), rows_of(clutch)) == (
        "2020-03-01",
        [("male", 3, {"Saltgrass": False})],
    )
    post(**{"hatched_on": "2020-03-03", "look-normal-male-count": "7", "lost": "1"})
    clutch.refresh_from_db()
    assert (str(clutch.hatched_on), clutch.lost) == ("2020-03-01", 1)
    assert rows_of(clutch) == [("male", 7, {"Saltgrass": False})]
    assert m.HatchRow.objects.count() == 1


def test_a_count_of_none_withdraws_its_row(post: Post, clutch: m.Clutch) -> None:
    post(**{"look-normal-male-count": "8"})
    again = {"look-normal-male-count": "", "look-normal-female-count": "8"}
    post(**again, reason="popped them anew")
    assert m.DaybookEntry.objects.latest("pk").reason == "popped them anew"
    assert rows_of(clutch) == [("female", 8, {"Saltgrass": False})]
    gone = m.HatchRow.objects.withdrawn().get()
    assert gone.withdrawn_reason == "counted anew: none"


def test_a_count_cannot_fall_below_the_recorded(post: Post, clutch: m.Clutch) -> None:
    post(**{"look-normal-male-count": "8", "look-normal-male-record": "3"})
    page = post(**{"look-normal-male-count": "2", "lost": "6"})
    assert errors(page) == {
        "look-normal-male-count": ["3 of these have a record already: the count cannot be below 3."]
    }


def test_somebody_else_logging_meanwhile_is_noticed(
    post: Post, owner_client: Client, clutch: m.Clutch
) -> None:
    post(**{"look-normal-male-count": "8"})
    page = post(**{"look-normal-male-count": "7", "lost": "1", "basis": "nothing"})
    assert list(errors(page)) == ["__all__"]
    assert "was logged while this page was open" in errors(page)["__all__"][0]
    assert page.context["form"]["look-normal-male-count"].value() == "7"
    assert rows_of(clutch) == [("male", 8, {"Saltgrass": False})]
    basis = page.context["plan"].basis
    assert f'name="basis" value="{basis}"' in page.content.decode()


def test_a_look_that_left_the_chances_meanwhile_is_still_counted(
    post: Post, clutch: m.Clutch, saltgrass: m.Trait
) -> None:
    m.Statement.objects.all().delete()
    post(**{f"look-{saltgrass.pk}-male-count": "1", "look-normal-male-count": "7"})
    assert {(sex, count, seen.get("Saltgrass")) for sex, count, seen in rows_of(clutch)} >= {
        ("male", 1, True)
    }


# --- records -----------------------------------------------------------------------------------


def test_some_hatchlings_get_records_in_a_series(
    post: Post, clutch: m.Clutch, saltgrass: m.Trait
) -> None:
    AnimalFactory.create(species=clutch.species, code="26-07-02")
    post(
        **{"look-normal-male-count": "5", "look-normal-male-record": "2"},
        **{f"look-{saltgrass.pk}-female-count": "3", f"look-{saltgrass.pk}-female-record": "2"},
        **{f"look-{saltgrass.pk}-female-first": "S-09"},
    )
    young = m.Animal.objects.filter(clutch=clutch).order_by("code")
    assert [(one.code, one.sex, one.hatched_on, one.hatch_row.count) for one in young] == [
        ("26-07-01", "male", TODAY, 5),
        ("26-07-03", "male", TODAY, 5),
        ("S-09", "female", TODAY, 3),
        ("S-10", "female", TODAY, 3),
    ]
    seen = m.Observation.objects.order_by("animal__code").values_list("animal__code", "seen")
    assert list(seen) == [("26-07-01", "no"), ("26-07-03", "no"), ("S-09", "yes"), ("S-10", "yes")]


def test_every_hatchling_gets_a_record_where_it_is_wished(post: Post, clutch: m.Clutch) -> None:
    post(
        **{"look-normal-male-count": "3", "look-normal-male-record": "1", "still_open": "on"},
    )
    post(
        **{"look-normal-male-count": "4", "look-normal-female-count": "4", "record_all": "on"},
    )
    codes = m.Animal.objects.filter(clutch=clutch).order_by("code").values_list("code", flat=True)
    assert list(codes) == [f"26-07-0{serial}" for serial in range(1, 9)]


def test_that_each_gets_a_record_is_remembered(
    owner_client: Client, post: Post, clutch: m.Clutch
) -> None:
    address = reverse("clutches-hatch", args=[clutch.pk])
    assert not owner_client.get(address).context["form"]["record_all"].value()
    post(**{"look-normal-male-count": "8", "record_all": "on"})
    assert owner_client.get(address).context["form"]["record_all"].value()


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (
            {"look-normal-male-record": "9"},
            {"look-normal-male-record": ["Only 8 of these can still get a record."]},
        ),
        (
            {"look-normal-male-record": "2", "look-normal-male-first": "first"},
            {
                "__all__": [
                    "“first” has no number at its end to count on from. Write one like 26-07-01."
                ]
            },
        ),
        (
            {"look-normal-male-record": "2", "look-normal-male-first": "f-013"},
            {"__all__": ["The code f-014 is in use already. Begin the series elsewhere."]},
        ),
        (
            {"look-normal-male-record": "1", "look-normal-male-first": "a b1"},
            {"__all__": ["A code has letters, figures, and - . _ between them; no spaces."]},
        ),
    ],
)
def test_records_that_cannot_be_made_are_refused_and_nothing_is_kept(
    post: Post, clutch: m.Clutch, typed: dict[str, str], said: dict[str, list[str]]
) -> None:
    assert errors(post(**{"look-normal-male-count": "8", **typed})) == said
    assert rows_of(clutch) == []


def test_series_counts_on_from_its_first_code() -> None:
    assert series("A-098", 3) == ["A-098", "A-099", "A-100"]
    assert series("9", 2) == ["9", "10"]


def test_a_tally_hatchling_gets_a_record_and_no_number_moves(
    post: Post, clutch: m.Clutch, owner_client: Client
) -> None:
    post(**{"look-normal-unknown-count": "8"})
    before = list(m.Standing.objects.order_by("pk").values_list("animal", "two", "one", "none"))
    row = m.HatchRow.objects.get()
    address = reverse("clutches-record", args=[row.pk])
    page = owner_client.get(address)
    assert page.context["form"]["code"].value() == "26-07-01"
    typed = {"code": "26-07-01", "sex": "female", "hatched_on": str(TODAY)}
    owner_client.post(address, typed)
    young = m.Animal.objects.get(code="26-07-01")
    assert (young.clutch, young.hatch_row, young.sex) == (clutch, row, "female")
    assert [(str(one.trait), one.seen) for one in young.observations.all()] == [("Saltgrass", "no")]
    after = m.Standing.objects.exclude(animal=young).order_by("pk")
    for was, now in zip(before, after.values_list("animal", "two", "one", "none"), strict=True):
        assert was == pytest.approx(now, abs=1e-12)
    assert errors(owner_client.post(address, typed)) == {
        "code": ["The code 26-07-01 is in use already. Choose another."]
    }


def test_a_hatchling_of_a_full_row_or_of_another_sex_gets_no_record(
    clutch: m.Clutch, owner: Account
) -> None:
    row = m.HatchRow.objects.create(clutch=clutch, count=1, sex="male")
    with pytest.raises(Refused) as refused:
        record_hatchling(row=row, animal=m.Animal(code="x1", sex="female"), by=owner)
    assert (
        str(refused.value)
        == "The hatchlings of this row were counted as male. Correct the count first."
    )
    AnimalFactory.create(species=clutch.species, clutch=clutch, hatch_row=row)
    with pytest.raises(Refused) as refused:
        record_hatchling(row=row, animal=m.Animal(code="x1", sex="male"), by=owner)
    assert (
        str(refused.value)
        == "Every hatchling of this row has a record already. If there are more, count them first."
    )
