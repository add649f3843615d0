"""Prospects: written down, changed, let go, taken up, tried out, bought; each with its undo."""

from collections.abc import Callable
from datetime import date

import pytest
from django.core.exceptions import ValidationError

from keeper.domain import inference
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import Refused, writing
from keeper.domain.prospects import writes as domain
from keeper.models import (
    Account,
    Animal,
    Contact,
    DaybookEntry,
    Paper,
    Prospect,
    ProspectWord,
    Standing,
    StandingChange,
    Statement,
)
from tests.factories import TraitFactory
from tests.keeper.prospects.rows import Yard, yard


@pytest.fixture
def place(owner: Account) -> Yard:
    return yard(owner)


def said(prospect: Prospect) -> list[str]:
    return [str(one) for one in ProspectWord.objects.live().filter(prospect=prospect)]


def test_keep_prospect_writes_it_with_words_and_a_new_seller(place: Yard, owner: Account) -> None:
    prospect = Prospect(species=place.species, name="grey female")
    words = [place.word(place.har, "possible", "2/3"), place.word(place.dun, "visual")]
    entry = domain.keep_prospect(
        prospect=prospect, words=words, contact=Contact(name="Ines Varga"), by=owner
    )
    assert (entry.what, entry.subject_id) == ("Noted the prospect grey female", prospect.pk)
    assert said(prospect) == [
        "grey female: visual Quillwort DUN",
        "grey female: possible het 66 % Saltgrass HAR",
    ]
    assert Prospect.objects.get().source == Contact.objects.get(name="Ines Varga")
    # Nothing of it bears on the book before it is here.
    assert not StandingChange.objects.filter(entry=entry).exists()


def test_keep_prospect_changes_keeps_and_withdraws_words(place: Yard, owner: Account) -> None:
    prospect = place.prospect(place.word(place.har, "carries"), place.word(place.dun, "visual"))
    first = {one.trait_id: one.pk for one in ProspectWord.objects.all()}
    words = [place.word(place.pel, "possible", "1/2")]
    entry = domain.keep_prospect(prospect=prospect, words=words, reason="asked again", by=owner)
    assert said(prospect) == ["grey female: possible het 50 % Saltgrass PEL"]
    kept = ProspectWord.objects.live().get()
    assert kept.pk == first[kept.trait_id]
    gone = ProspectWord.objects.withdrawn().get()
    assert (gone.trait, gone.withdrawn_reason) == (place.dun.trait, "asked again")
    undo(entry=entry, by=owner)
    assert said(prospect) == [
        "grey female: visual Quillwort DUN",
        "grey female: 100 % het (one copy) Saltgrass HAR",
    ]


def test_keep_prospect_refuses_a_trait_of_another_species(place: Yard, owner: Account) -> None:
    other = TraitFactory.create(name="Marrowglass")
    with pytest.raises(ValidationError) as error:
        place.prospect(ProspectWord(trait=other, claim="visual"))
    assert error.value.messages == ["Marrowglass is no trait of royal python. Choose one that is."]
    assert Prospect.objects.count() == 0


def test_let_go_and_take_up_again(place: Yard, owner: Account) -> None:
    prospect = place.prospect(place.word(place.har, "carries"))
    domain.let_go(prospect=prospect, reason="the parents are not known", by=owner)
    assert prospect.withdrawn_reason == "the parents are not known"
    writes: list[Callable[[], DaybookEntry]] = [
        lambda: domain.let_go(prospect=prospect, reason="again", by=owner),
        lambda: domain.keep_prospect(prospect=prospect, words=[], by=owner),
        lambda: domain.buy(prospect=prospect, animal=Animal(code="F-9"), by=owner),
    ]
    for write in writes:
        with pytest.raises(Refused) as error:
            write()
        assert str(error.value) == "grey female was let go. Take it up again first."
    domain.take_up(prospect=prospect, by=owner)
    prospect.refresh_from_db()
    assert (prospect.is_withdrawn, said(prospect)) == (
        False,
        ["grey female: 100 % het (one copy) Saltgrass HAR"],
    )
    with pytest.raises(Refused) as error:
        domain.take_up(prospect=prospect, by=owner)
    assert str(error.value) == "grey female was not let go: it stands among the prospects."


def test_one_that_was_taken_back_is_taken_up_with_what_was_said(
    place: Yard, owner: Account
) -> None:
    prospect = Prospect(species=place.species, name="grey female")
    words = [place.word(place.har, "carries")]
    entry = domain.keep_prospect(prospect=prospect, words=words, by=owner)
    undo(entry=entry, by=owner)
    prospect.refresh_from_db()
    assert (prospect.withdrawn_reason, said(prospect)) == ("undone", [])
    domain.take_up(prospect=prospect, by=owner)
    assert said(prospect) == ["grey female: 100 % het (one copy) Saltgrass HAR"]


def test_buy_makes_animal_paper_and_statements_in_one_entry(place: Yard, owner: Account) -> None:
    prospect = place.prospect(place.word(place.har, "possible", "2/3"))
    entries = DaybookEntry.objects.count()
    animal = Animal(code="F-9", sex="female", acquired_on=date(2026, 10, 1))
    paper = Paper(says="66 % het, out of my own pair", dated=date(2026, 9, 1))
    entry = domain.buy(prospect=prospect, animal=animal, paper=paper, by=owner)
    assert DaybookEntry.objects.count() == entries + 1
    assert (entry.what, entry.subject_id) == ("Bought F-9: the prospect grey female", animal.pk)
    assert (animal.source, animal.was_prospect) == (place.seller, prospect)
    statement = Statement.objects.get(animal=animal)
    assert (str(statement), statement.source, statement.paper, statement.on) == (
        "F-9: possible het 66 % Saltgrass HAR",
        place.seller,
        paper,
        date(2026, 9, 1),
    )
    # The source's word is taken whole, and nothing else speaks: the figure is the one it said.
    standing = Standing.objects.get(animal=animal, trait=place.har.trait, line=place.har)
    assert standing.carries == pytest.approx(2 / 3)
    with pytest.raises(Refused) as error:
        domain.buy(prospect=prospect, animal=Animal(code="F-10"), by=owner)
    assert str(error.value) == (
        "grey female was bought as F-9: what is said of it stands there now. Change it there."
    )


def test_undo_of_a_purchase_takes_all_back_and_it_can_be_bought_again(
    place: Yard, owner: Account
) -> None:
    prospect = place.prospect(place.word(place.har, "carries"))
    animal = Animal(code="F-9", sex="female")
    entry = domain.buy(prospect=prospect, animal=animal, paper=Paper(says="het"), by=owner)
    undo(entry=entry, by=owner)
    prospect.refresh_from_db()
    assert prospect.bought is None
    assert not Animal.objects.live().filter(code="F-9").exists()
    assert not Statement.objects.live().exists()
    assert not Paper.objects.live().exists()
    domain.buy(prospect=prospect, animal=Animal(code="F-9", sex="female"), by=owner)
    prospect.refresh_from_db()
    assert str(prospect.bought) == "F-9"


def test_buy_keeps_nothing_if_the_code_is_taken(place: Yard, owner: Account) -> None:
    place.here("F-9", "female")
    prospect = place.prospect(place.word(place.har, "carries"))
    with pytest.raises(ValidationError) as error:
        domain.buy(prospect=prospect, animal=Animal(code="f-9"), by=owner)
    assert error.value.messages == ["This code is in use already. Choose another."]
    prospect.refresh_from_db()
    assert (prospect.bought, Statement.objects.count()) == (None, 0)


def test_buy_refuses_a_line_that_the_register_does_not_hold_any_more(
    place: Yard, owner: Account
) -> None:
    prospect = place.prospect(place.word(place.pel, "visual"))
    domain.let_go(prospect=prospect, reason="too dear", by=owner)
    with writing(by=owner, what="Withdrew a line") as book:
        book.withdraw(place.pel, reason="the same as another")
    domain.take_up(prospect=prospect, by=owner)
    with pytest.raises(Refused) as error:
        domain.buy(prospect=prospect, animal=Animal(code="F-9"), by=owner)
    assert str(error.value) == (
        "Saltgrass PEL was withdrawn from the register: change what is said."
    )


def test_as_if_here_gives_what_a_purchase_gives_and_leaves_nothing(
    place: Yard, owner: Account
) -> None:
    prospect = place.prospect(place.word(None, "visual"), place.word(place.dun, "possible", "1/2"))
    rows = [model.objects.count() for model in (Animal, Statement, Standing, DaybookEntry)]

    def figures(animal: Animal) -> list[tuple[object, ...]]:
        found = Standing.objects.filter(animal=animal).order_by("trait", "line")
        return [(one.trait_id, one.line_id, one.word, one.two, one.one) for one in found]

    tried = domain.as_if_here(prospect=prospect, by=owner, ask=figures)
    assert [m.objects.count() for m in (Animal, Statement, Standing, DaybookEntry)] == rows
    animal = Animal(code="F-9", sex="female")
    domain.buy(prospect=prospect, animal=animal, by=owner)
    assert figures(animal) == tried
    assert len(tried) == 6
    assert inference.differences() == []


def test_as_if_here_refuses_more_copies_than_fit(place: Yard, owner: Account) -> None:
    place.dun.locus = place.har.locus
    place.dun.save()
    words = [place.word(place.har, "double"), place.word(place.dun, "carries")]
    prospect = place.prospect(*words)
    with pytest.raises(Refused, match="These need 3 copies at one place"):
        domain.as_if_here(prospect=prospect, by=owner, ask=lambda animal: animal.code)
    assert not Animal.objects.exists()
