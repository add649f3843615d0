"""Pages of the way: noting, correcting, laying with proposed sires, prior beside posterior."""

from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django.asserts import assertContains, assertNotContains

from keeper import models as m
from keeper.domain.breeding import writes
from tests.factories import AccountFactory
from tests.keeper.books import Book
from tests.keeper.breeding.rows import Yard
from tests.keeper.counting import queries_of
from tests.keeper.sent import filled, opened

pytestmark = pytest.mark.django_db

TODAY = timezone.localdate()


def ago(days: int) -> date:
    return TODAY - timedelta(days=days)


@pytest.fixture
def yard(owner: m.Account) -> Yard:
    return Yard(owner)


def address(yard: Yard) -> str:
    return reverse("animals-way", args=[yard.dam.pk])


def test_a_lock_is_noted_with_a_day_and_one_button(yard: Yard, owner_client: Client) -> None:
    form = filled(owner_client, address(yard))
    assert form["on"] == TODAY.isoformat()
    answer = owner_client.post(address(yard), form | {"sire": "M-1", "kind": "lock"}, follow=True)
    event = m.BreedingEvent.objects.get()
    assert (event.kind, event.sire, event.on) == ("lock", yard.one, TODAY)
    assertContains(answer, "with M-1")
    assert filled(owner_client, address(yard))["sire"] == ""


def test_the_male_that_is_with_her_or_planned_is_filled_in(
    yard: Yard, owner_client: Client
) -> None:
    m.PlannedPairing.objects.create(
        season=TODAY.year, dam=yard.dam, sire=yard.other, reason="step 1"
    )
    assert filled(owner_client, address(yard))["sire"] == "M-2"
    yard.note("introduced", ago(3), yard.one)
    assert filled(owner_client, address(yard))["sire"] == "M-1"
    # An ovulation takes no male, whoever stands in the field.
    owner_client.post(address(yard), filled(owner_client, address(yard)) | {"kind": "ovulation"})
    assert m.BreedingEvent.objects.get(kind="ovulation").sire is None


def test_a_form_sent_twice_is_noted_once(yard: Yard, owner_client: Client) -> None:
    form = filled(owner_client, address(yard)) | {"kind": "ovulation"}
    for _ in range(2):
        assert owner_client.post(address(yard), form).status_code == 302
    assert m.BreedingEvent.objects.count() == 1


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({"kind": "lock"}, "Name the male who was with her."),
        ({"kind": ""}, "Say which step it was: choose its button."),
        ({"kind": "ovulation", "on": "2099-01-01"}, "That day is still to come."),
        ({"kind": "ovulation", "on": "soon"}, "Enter a valid date."),
        ({"kind": "shed", "size_mm": "20"}, "Only follicles are measured."),
        ({"kind": "lock", "sire": "F-1"}, "F-1 is not recorded as male."),
    ],
)
def test_what_is_refused_is_said_and_kept(
    yard: Yard, owner_client: Client, sent: dict[str, str], said: str
) -> None:
    form = filled(owner_client, address(yard)) | {"note": "by lamplight"} | sent
    answer = owner_client.post(address(yard), form)
    assertContains(answer, said)
    assertContains(answer, "by lamplight")
    assert not m.BreedingEvent.objects.exists()


def test_what_was_noted_is_corrected_taken_back_and_put_back(
    yard: Yard, owner_client: Client
) -> None:
    event = yard.note("lock", ago(9), yard.one)
    page = reverse("animals-way-noted", args=[event.pk])
    form = filled(owner_client, page)
    assert form["sire"] == "M-1"
    owner_client.post(page, form | {"on": ago(8).isoformat(), "reason": "a day later"})
    event.refresh_from_db()
    assert event.on == ago(8)
    hidden = opened(owner_client, page) | {"act": "withdraw"}
    owner_client.post(page, hidden | {"reason": "it was another"})
    event.refresh_from_db()
    assert event.is_withdrawn
    owner_client.post(page, opened(owner_client, page))
    event.refresh_from_db()
    assert not event.is_withdrawn


def test_a_stale_correction_is_asked_again(yard: Yard, owner_client: Client) -> None:
    event = yard.note("lock", ago(9), yard.one)
    page = reverse("animals-way-noted", args=[event.pk])
    form = filled(owner_client, page)
    meanwhile = m.BreedingEvent.objects.get(pk=event.pk)
    meanwhile.on = ago(7)
    writes.change_event(event=meanwhile, by=AccountFactory.create())
    answer = owner_client.post(page, form | {"on": ago(8).isoformat()})
    assert answer.status_code == 200
    event.refresh_from_db()
    assert event.on == ago(7)


def test_a_male_has_no_way(yard: Yard, owner_client: Client) -> None:
    assert owner_client.get(reverse("animals-way", args=[yard.one.pk])).status_code == 404


def test_laying_begins_with_the_proposed_sires_and_their_shares(
    yard: Yard, owner_client: Client
) -> None:
    yard.note("introduced", ago(80), yard.one)
    yard.note("lock", ago(79), yard.one)
    yard.note("introduced", ago(60), yard.other)
    page = f"{reverse('clutches-new')}?dam={yard.dam.pk}"
    answer = owner_client.get(page)
    assertContains(answer, "1 lock seen, each weighs 4")
    form = filled(owner_client, page)
    assert (form["sire_1"], form["share_1"]) == ("M-1", "83 %")
    assert (form["sire_2"], form["share_2"]) == ("M-2", "16.5 %")
    assert (form["alone"], form["alone_share"]) == ("on", "0.5 %")
    owner_client.post(page, form | {"eggs": "6"})
    clutch = m.Clutch.objects.get()
    shares = {str(one): str(one.share) for one in clutch.candidates.all()}
    assert shares == {"M-1": "83/100", "M-2": "33/200", "no male: the dam alone": "1/200"}


def test_laying_says_who_is_not_proposed_and_for_which_day(
    yard: Yard, owner_client: Client
) -> None:
    yard.note("introduced", ago(5), yard.one)
    page = f"{reverse('clutches-new')}?dam={yard.dam.pk}&laid={ago(9).isoformat()}&lock=2"
    answer = owner_client.get(page)
    assertContains(answer, "after laying.")
    form = filled(owner_client, page)
    assert (form["laid_on"], form["sire_1"]) == (ago(9).isoformat(), "")
    for odd in ("laid=soon", "laid=2099-01-01", "lock=0", "laid="):
        assert owner_client.get(f"{reverse('clutches-new')}?dam={yard.dam.pk}&{odd}").status_code


def test_a_litter_is_born_and_has_no_laying(owner: m.Account, owner_client: Client) -> None:
    yard = Yard(owner, bearing="live")
    page = f"{reverse('clutches-new')}?dam={yard.dam.pk}"
    form = filled(owner_client, page)
    assert "laid_on" not in form
    owner_client.post(page, form | {"sire_1": "M-1", "eggs": "4"})
    clutch = m.Clutch.objects.get()
    assert (clutch.laid_on, clutch.hatched_on) == (None, TODAY)
    shown = owner_client.get(reverse("clutches-one", args=[clutch.pk]))
    assertContains(shown, "Litter")
    assertContains(shown, "Born dead")
    assertNotContains(owner_client.get(reverse("clutches-way", args=[clutch.pk])), "Candled")


def test_a_clutch_shows_each_candidate_before_and_after(
    owner: m.Account, owner_client: Client
) -> None:
    # A visual dam; the one male visual, the other without: of two normal young the first cannot be
    # the sire, whatever his share.
    book = Book(owner)
    dam = book.founder("F-1", "female", "visual")
    likely, other = book.founder("M-1", "male", "visual"), book.founder("M-2", "male", "clear")
    clutch = book.clutch("C-1", dam, likely, other, normal=2)
    for row, share in zip(clutch.candidates.all(), ("833/1000", "167/1000"), strict=True):
        m.CandidateSire.objects.filter(pk=row.pk).update(share=share)
    m.Clutch.objects.filter(pk=clutch.pk).update(hatched_on=ago(1), laid_on=ago(60))
    page = owner_client.get(reverse("clutches-one", args=[clutch.pk])).content.decode()
    odds = page.split('id="odds"')[1].split("</table>")[0]
    assert [one.split("<")[0] for one in odds.split('class="number">')[3:]] == [
        "83 %", "0 %", "16 %", "100 %",
    ]  # fmt: skip
    assert "ruled out" in odds
    assert "likelier now" in odds


def test_candling_with_losses_and_first_meals_of_many(yard: Yard, owner_client: Client) -> None:
    clutch = yard.lay("26-01", ago(70), eggs=5)
    page = reverse("clutches-way", args=[clutch.pk])
    form = filled(owner_client, page, page) | {"on": ago(60).isoformat()}
    owner_client.post(page, form | {"kind": "candled", "fertile": "4", "lost": "1"})
    clutch.refresh_from_db()
    assert clutch.lost == 1
    refused = owner_client.post(
        page, filled(owner_client, page, page) | {"kind": "lost", "lost": "9"}
    )
    assertContains(refused, "5 eggs, but 0 slugs + 10 lost + 0 hatched are 10.")
    yard.hatch(clutch, ago(10), count=4, lost=1, own=3)
    young = reverse("clutches-way-young", args=[clutch.pk])
    codes = [str(one.pk) for one in m.Animal.objects.filter(clutch=clutch)]
    sent = filled(owner_client, page, young) | {"kind": "first-meal", "young": codes}
    assert sent["count"] == "1"
    before = m.DaybookEntry.objects.count()
    owner_client.post(young, sent)
    assert m.ClutchStep.objects.filter(kind="first-meal").count() == 4
    assert m.DaybookEntry.objects.count() == before + 1
    again = owner_client.post(young, filled(owner_client, page, young) | {"kind": "first-meal"})
    assertContains(again, "more than the 1 there are")


def test_a_box_is_noted_and_the_next_begins_with_it(yard: Yard, owner_client: Client) -> None:
    first, second = yard.lay("26-01", ago(9)), yard.lay("26-02", ago(5))
    page = reverse("clutches-way-box-new", args=[first.pk])
    form = filled(owner_client, page) | {"box": "B 1", "place": "Room 2", "temperature": "31.5"}
    owner_client.post(page, form)
    assert str(m.Incubation.objects.get()) == "B 1 with eggs of 26-01"
    then = filled(owner_client, reverse("clutches-way-box-new", args=[second.pk]))
    assert (then["box"], then["place"], then["temperature"]) == ("", "Room 2", "31.5")
    shown = owner_client.get(reverse("clutches-one", args=[first.pk]))
    assertContains(shown, "B 1, Room 2, 31.5 °C")


def test_today_names_what_is_expected_and_what_closes_it(yard: Yard, owner_client: Client) -> None:
    yard.note("ovulation", ago(40))
    yard.note("shed", ago(25))
    answer = owner_client.get(reverse("home"))
    assertContains(answer, f"{reverse('clutches-new')}?dam={yard.dam.pk}")
    assertContains(answer, "21 to 35 days after “shed before laying”")
    # Each time after an entry: what Today keeps for a state of the book is looked for anew then.
    yard.note("shed", ago(25), dam=yard.animal("F-2", "female"))
    few = queries_of(lambda: owner_client.get(reverse("home")))
    for number in range(3, 7):
        yard.note("shed", ago(25), dam=yard.animal(f"F-{number}", "female"))
    assert queries_of(lambda: owner_client.get(reverse("home"))) == few


def test_a_way_is_drawn_with_what_was_and_what_is_expected(
    yard: Yard, owner_client: Client
) -> None:
    yard.note("ovulation", ago(5))
    page = owner_client.get(reverse("animals-one", args=[yard.dam.pk])).content.decode()
    assert page.count('class="way-done"') == 1
    assert page.count('class="way-ahead"') == 5
    assert 'class="way-today"' in page
    assert "1 of 6 steps done, last ovulation on" in page
