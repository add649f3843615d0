"""All that is due, by place and person: closed, put off, given, for one and for many."""

from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django.asserts import assertContains, assertNotContains, assertRedirects

from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import Refused, writing
from keeper.domain.today import writes
from keeper.domain.today.duties import Duty, duties
from keeper.models import (
    Account,
    Animal,
    Arrangement,
    BreedingEvent,
    Chore,
    Clutch,
    DaybookEntry,
    Incubation,
    Member,
    Place,
    Project,
    Quarantine,
)
from tests.factories import AccountFactory, AnimalFactory, ClutchFactory, SpeciesFactory
from tests.keeper.counting import queries_of

pytestmark = pytest.mark.django_db
TODAY = timezone.localdate()


def day(number: int) -> date:
    return TODAY + timedelta(days=number)


def chore(owner: Account, what: str = "Mend the thermostat", on: int = 0, **more: object) -> Chore:
    one = Chore(what=what, on=day(on), **more)
    writes.add_chore(chore=one, by=owner)
    return one


def keys() -> list[str]:
    return [one.key for one in duties(TODAY)]


def only() -> Duty:
    (one,) = duties(TODAY)
    return one


def one_of_each(owner: Account) -> tuple[Clutch, Animal, Member, Quarantine]:
    """A clutch that hatches, an animal in quarantine, a holdback to look at again."""
    animal = AnimalFactory.create(place="Rack 2 · 4")
    clutch = ClutchFactory.create(
        laid_on=day(-61), dam=AnimalFactory.create(species=animal.species, sex="female")
    )
    project = Project.objects.create(species=animal.species, name="Pale tide")
    member = Member.objects.create(
        project=project, animal=animal, since=day(-90), holdback=True, review_on=day(3),
        reason="the darkest",
    )  # fmt: skip
    quarantine = Quarantine.objects.create(animal=animal, on=day(-60), until=day(0))
    return clutch, animal, member, quarantine


def test_all_kinds_are_due_in_the_order_of_their_days_and_no_others(owner: Account) -> None:
    clutch, animal, member, _ = one_of_each(owner)
    soon, later = chore(owner, on=7), chore(owner, "Next month", on=8)
    found = duties(TODAY)
    assert [one.key for one in found] == [
        f"hatch-{clutch.pk}", f"quarantine-{animal.pk}", f"review-{member.pk}", f"chore-{soon.pk}"
    ]  # fmt: skip
    assert [one.is_late(TODAY) for one in found] == [True, False, False, False]
    assert [one.is_coming(TODAY) for one in found] == [False, False, True, True]
    assert f"chore-{later.pk}" not in keys()


def test_eggs_are_where_they_lie_and_a_chore_where_its_animal_lives(owner: Account) -> None:
    clutch, animal, *_ = one_of_each(owner)
    Incubation.objects.create(clutch=clutch, since=day(-60), box="B 3", place="Incubator 1")
    chore(owner, animal=animal)
    assert {one.kind: one.place for one in duties(TODAY)} == {
        "hatch": "Incubator 1", "quarantine": "Rack 2 · 4", "review": "Rack 2 · 4",
        "chore": "Rack 2 · 4",
    }  # fmt: skip


def test_a_chore_is_about_an_animal_or_a_place(owner_client: Client) -> None:
    animal, place = AnimalFactory.create(), Place.objects.create(name="Room 2", kind="room")
    sent = {"what": "Air it", "on": TODAY, "animal": animal.code.lower(), "place": place.pk}
    page = owner_client.post(reverse("home-due-new"), sent)
    assertContains(page, "It is about an animal already, whose place is known.")
    assertContains(page, 'value="Air it"')
    assert not Chore.objects.exists()
    owner_client.post(reverse("home-due-new"), sent | {"animal": ""})
    assert Chore.objects.get().place == place


def test_a_chore_of_an_unknown_animal_is_asked_again_with_all_that_was_typed(
    owner_client: Client,
) -> None:
    page = owner_client.post(
        reverse("home-due-new"), {"what": "Weigh it", "on": TODAY, "animal": "X-1"}
    )
    assertContains(page, "No animal has the code “X-1”.")
    assertContains(page, 'value="Weigh it"')


def test_several_are_closed_in_one_entry_and_undone_together(owner: Account) -> None:
    one_of_each(owner)
    one = chore(owner, every=14)
    closed = [key for key in keys() if key.startswith(("quarantine", "chore"))]
    entry = writes.close(keys=closed, by=owner)
    assert entry.what.startswith("Done: ")
    one.refresh_from_db()
    assert one.done_on == TODAY
    assert Quarantine.objects.get().ended_on == TODAY
    again = Chore.objects.get(done_on=None)
    assert (again.on, again.what) == (day(14), one.what)
    undo(entry=entry, by=owner)
    assert set(closed) <= set(keys())
    assert Chore.objects.live().count() == 1


def test_a_shed_before_laying_is_closed_in_place(owner: Account) -> None:
    species = SpeciesFactory.create()
    dam = AnimalFactory.create(species=species, sex="female", hatched_year=2020)
    with writing(by=owner, what="Ovulated") as book:
        book.keep(BreedingEvent(dam=dam, kind="ovulation", on=day(-16)))
    (shed,) = [one for one in duties(TODAY) if one.kind == "shed"]
    assert shed.is_done_at_once
    writes.close(keys=[shed.key], by=owner)
    assert BreedingEvent.objects.get(kind="shed").on == TODAY
    assert f"laid-{dam.pk}" not in keys() or shed.key not in keys()
    assert shed.key not in keys()


def test_what_asks_for_more_is_not_closed_by_a_button(owner: Account) -> None:
    clutch, *_ = one_of_each(owner)
    one = chore(owner)
    with pytest.raises(Refused, match=r"Hatch of .* is not said by a button alone"):
        writes.close(keys=[f"hatch-{clutch.pk}", f"chore-{one.pk}"], by=owner)
    one.refresh_from_db()
    assert one.done_on is None


def test_what_was_put_off_waits_apart_and_comes_again_on_its_day(owner: Account) -> None:
    clutch, *_ = one_of_each(owner)
    key = f"hatch-{clutch.pk}"
    writes.put_off(keys=[key], until=day(5), by=owner)
    (hatch,) = [one for one in duties(TODAY) if one.key == key]
    assert (hatch.until, hatch.is_put_off(TODAY), hatch.is_put_off(day(5))) == (day(5), True, False)
    writes.bring_back(keys=[key], by=owner)
    assert not next(one for one in duties(TODAY) if one.key == key).is_put_off(TODAY)
    assert Arrangement.objects.count() == 1


def test_a_chore_is_put_off_by_its_own_day(owner: Account) -> None:
    one = chore(owner)
    writes.put_off(keys=[f"chore-{one.pk}"], until=day(3), by=owner)
    one.refresh_from_db()
    assert (one.on, only().low) == (day(3), day(3))
    assert not Arrangement.objects.exists()


@pytest.mark.parametrize("until", [-1, 0])
def test_nothing_is_put_off_until_a_day_that_is_over(owner: Account, until: int) -> None:
    one = chore(owner)
    with pytest.raises(Refused, match="Choose a day after today"):
        writes.put_off(keys=[f"chore-{one.pk}"], until=day(until), by=owner)


def test_what_somebody_closed_meanwhile_is_not_closed_again(owner: Account) -> None:
    one = chore(owner)
    writes.close(keys=[f"chore-{one.pk}"], by=owner)
    with pytest.raises(Refused, match="1 is not due any more"):
        writes.close(keys=[f"chore-{one.pk}"], by=owner)
    with pytest.raises(Refused, match="It was done meanwhile"):
        writes.change_chore(chore=one, by=owner)


def test_duties_are_given_to_whoever_may_write(owner: Account) -> None:
    clutch, *_ = one_of_each(owner)
    helper, viewer = AccountFactory.create(name="Jo"), AccountFactory.create(role="viewer")
    one = chore(owner)
    given = [f"hatch-{clutch.pk}", f"chore-{one.pk}"]
    writes.give(keys=given, to=helper, by=owner)
    assert {duty.key for duty in duties(TODAY) if duty.person == helper} == set(given)
    with pytest.raises(Refused, match="may not write in this book"):
        writes.give(keys=given, to=viewer, by=owner)
    writes.give(keys=given, to=None, by=owner)
    assert all(duty.person is None for duty in duties(TODAY))


def test_the_list_asks_no_more_of_a_larger_book(owner: Account, owner_client: Client) -> None:
    one_of_each(owner)
    chore(owner)
    address = reverse("home-due")
    owner_client.get(address)
    before = queries_of(lambda: owner_client.get(address))
    for _ in range(2):
        one_of_each_more = AnimalFactory.create(place="Rack 3 · 1")
        Quarantine.objects.create(animal=one_of_each_more, on=day(-60), until=day(0))
        ClutchFactory.create(laid_on=day(-60))
        chore(owner, animal=one_of_each_more)
    assert queries_of(lambda: owner_client.get(address)) == before


def test_the_page_groups_by_place_and_by_person(owner: Account, owner_client: Client) -> None:
    one_of_each(owner)
    helper = AccountFactory.create(name="Jo")
    chore(owner, person=helper)
    page = owner_client.get(reverse("home-due"))
    assertContains(page, '<h2 id="group-1">Rack 2</h2>')
    assertContains(page, "1 late, 2 due, 1 coming")
    page = owner_client.get(reverse("home-due"), {"by": "person"})
    assertContains(page, '<h2 id="group-1">Jo</h2>')
    assertContains(page, '<h2 id="group-2">Whoever is there</h2>')


def test_buttons_of_the_page_close_put_off_and_give(owner: Account, owner_client: Client) -> None:
    address = reverse("home-due")
    one, other = chore(owner), chore(owner, "Air the room")
    answer = owner_client.post(address, {"one": f"chore-{one.pk}", "duty": [f"chore-{other.pk}"]})
    entry = DaybookEntry.objects.order_by("-pk")[0]
    assertRedirects(answer, f"{address}?by=place&moved={entry.pk}", fetch_redirect_response=False)
    assert keys() == [f"chore-{other.pk}"]
    page = owner_client.post(address, {"duty": [f"chore-{other.pk}"], "act": "off", "until": ""})
    assertContains(page, "Say until when. Choose a day after today.")
    assertContains(page, "checked")
    page = owner_client.post(address, {"act": "done"})
    assertContains(page, "Nothing is marked.")
    page = owner_client.post(address, {"act": "done", "duty": [f"chore-{one.pk}"]})
    assertContains(page, "Something marked is not due any more")
    until = day(2).isoformat()
    owner_client.post(address, {"duty": [f"chore-{other.pk}"], "act": "off", "until": until})
    assert only().low == day(2)


def test_an_empty_list_says_what_comes_here_by_itself(owner_client: Client) -> None:
    assertContains(owner_client.get(reverse("home-due")), "Nothing is due this week")


def test_a_viewer_reads_the_list_and_sends_nothing(client: Client, owner: Account) -> None:
    one = chore(owner)
    client.force_login(AccountFactory.create(role="viewer"))
    page = client.get(reverse("home-due"))
    assertContains(page, "Mend the thermostat")
    assertNotContains(page, "Done today")
    answer = client.post(reverse("home-due"), {"one": f"chore-{one.pk}"})
    assert answer.status_code == 403


def test_a_chore_that_need_not_be_done_goes_with_a_reason(
    owner: Account, owner_client: Client
) -> None:
    one = chore(owner)
    owner_client.post(reverse("home-due-chore-withdraw", args=[one.pk]), {"reason": "It works."})
    assert keys() == []
    one.refresh_from_db()
    assert one.withdrawn_reason == "It works."


def test_today_leaves_out_what_was_put_off(owner: Account, owner_client: Client) -> None:
    clutch, animal, member, _ = one_of_each(owner)
    Member.objects.filter(pk=member.pk).update(review_on=TODAY)
    page = owner_client.get(reverse("home"))
    for words in ("Going to hatch", "Holdbacks to look at again", "quarantine until"):
        assertContains(page, words)
    put = [f"hatch-{clutch.pk}", f"review-{member.pk}", f"quarantine-{animal.pk}"]
    writes.put_off(keys=put, until=day(3), by=owner)
    page = owner_client.get(reverse("home"))
    for words in ("Going to hatch", "Holdbacks to look at again", "quarantine until"):
        assertNotContains(page, words)


def test_today_leads_to_all_that_is_due(owner: Account, owner_client: Client) -> None:
    AnimalFactory.create()
    one = chore(owner, on=-1)
    page = owner_client.get(reverse("home"))
    assertContains(page, "Mend the thermostat")
    assertContains(page, f'name="one" value="chore-{one.pk}"')
    assertContains(page, reverse("home-due"))
