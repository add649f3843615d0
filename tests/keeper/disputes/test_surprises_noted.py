"""What was possible and very unlikely: pointed out until somebody has looked."""

from functools import partial
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import Refused, writing
from keeper.domain.disputes import queries as reads
from keeper.domain.disputes.surprises import look_at, point_out
from keeper.domain.saying.figures import one_in
from keeper.models import Account, Animal, DaybookEntry, Surprise
from tests.factories import AnimalFactory, ClutchFactory, TraitFactory
from tests.keeper.counting import queries_of


def surprise(number: int = 1, **more: Any) -> Surprise:
    """A clutch in which something unlikely hatched."""
    clutch = ClutchFactory.create(code=f"26-{number:02}")
    values = {
        "text": f"none of 9 hatchlings of {clutch} showed Saltgrass", "chance": 0.0019,
        "clutch": clutch, "entry": DaybookEntry.objects.create(what=f"Hatched {clutch}"),
    }  # fmt: skip
    trait = TraitFactory.create(species=clutch.species)
    return Surprise.objects.create(species=clutch.species, trait=trait, **(values | more))


def text(answer: Any) -> str:
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


@pytest.mark.parametrize(
    ("chance", "said"),
    [(0.002, "1 in 500"), (0.0019, "1 in 526"), (1 / 49, "1 in 49"), (0.3**9, "1 in 50\xa0805")],
)
def test_one_in_is_rounded_down(chance: float, said: str) -> None:
    # 1/0.0019 = 526.3; (10/3)^9 = 10^9/19683 = 50805.26.
    assert one_in(chance) == said


def test_looked_at_it_is_not_pointed_out_any_more(owner: Account) -> None:
    one = surprise()
    assert list(reads.surprises_waiting()) == [one]
    entry = look_at(surprise=one, by=owner)
    assert (entry.by, entry.subject_id) == (owner, one.clutch_id)
    assert (
        entry.what == "Looked at what was unlikely: none of 9 hatchlings of 26-01 showed Saltgrass"
    )
    assert list(reads.surprises_waiting()) == []
    assert reads.surprises_looked_at(5) == [one]

    again = point_out(surprise=one, by=owner)
    assert again.what == "To be looked at again: none of 9 hatchlings of 26-01 showed Saltgrass"
    assert list(reads.surprises_waiting()) == [one]


def test_looking_twice_is_refused(owner: Account) -> None:
    one = surprise()
    look_at(surprise=one, by=owner)
    with pytest.raises(Refused, match=r"^Somebody has looked at this already\. Point it out again"):
        look_at(surprise=Surprise.objects.get(), by=owner)
    point_out(surprise=one, by=owner)
    with pytest.raises(Refused, match=r"^This is pointed out already\. It stands"):
        point_out(surprise=one, by=owner)


def test_what_no_longer_counts_surprises_nobody(owner: Account) -> None:
    surprise(1, clutch=ClutchFactory.create(withdrawn_at=timezone.now()))
    with writing(by=owner, what="Added F1") as book:
        dam = AnimalFactory.build(species=ClutchFactory.create().species, code="F1")
        book.keep(dam)
    surprise(2, clutch=None, animal=Animal.objects.get(code="F1"), entry=book.entry)
    assert reads.surprises_waiting().count() == 1
    undo(entry=book.entry, by=owner)
    assert reads.surprises_waiting().count() == 0


def test_pages_point_it_out_and_take_the_look(owner_client: Client, owner: Account) -> None:
    one = surprise()
    for address in ("/", "/disputes/"):
        page = text(owner_client.get(address))
        assert "Unlikely, but possible" in page
        assert 'happens once in 526</strong> <span class="soft">· ' in page
        assert f'href="/clutches/{one.clutch_id}/"' in page
    assert "Nothing is disputed" not in page
    answer = owner_client.post(f"/disputes/surprises/{one.pk}/", follow=True)
    page = text(answer)
    assert "Looked at what was unlikely" in page
    assert "Nothing is disputed" in page
    assert "Unlikely, but possible" not in text(owner_client.get("/"))
    page = text(owner_client.post(f"/disputes/surprises/{one.pk}/", follow=True))
    assert (
        "Somebody has looked at this already. Point it out again if it needs another look."
    ) in page

    owner_client.post(f"/disputes/surprises/{one.pk}/", {"again": "1"})
    assert Surprise.objects.get().looked_at is None


def test_pages_ask_as_often_for_three_as_for_one(owner_client: Client, owner: Account) -> None:
    look_at(surprise=surprise(1), by=owner)
    surprise(2)

    def costs() -> list[int]:
        return [queries_of(partial(owner_client.get, page)) for page in ("/", "/disputes/")]

    first = costs()
    for number in (3, 4):
        look_at(surprise=surprise(number), by=owner)
        surprise(number + 10)
    assert costs() == first
