"""What animals show: double forms, combinations and named looks, with their chances.

Ratios follow from segregation (Mendel 1866) and are worked out by hand beside each test.
"""

from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.daybook import moved_by
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import writing
from keeper.domain.saying.shows import said_to_show
from tests.factories import LineFactory, TraitFactory
from tests.keeper.books import Book

pytestmark = pytest.mark.django_db


class Looks(Book):
    """Saltgrass HAR (recessive), Blaze ULV (incomplete dominant) with its double form."""

    def __init__(self, by: m.Account) -> None:
        super().__init__(by)
        self.blaze = TraitFactory.create(species=self.species, name="Blaze", shown="single")
        self.ulv = LineFactory.create(trait=self.blaze, code="ULV")
        self.double = TraitFactory.create(
            species=self.species, name="Superblaze", shown="every", base=self.blaze
        )

    def name_look(self, name: str, *parts: m.Trait, **lines: m.Line) -> m.NamedLook:
        """Give what several traits make together a name."""
        with writing(by=self.by, what=f"Named {name}") as entry:
            look = entry.keep(m.NamedLook(species=self.species, name=name))
            for trait in parts:
                named = [line for line in lines.values() if line.trait_id == trait.pk]
                entry.keep(m.LookPart(look=look, trait=trait), lines=named)
        return look

    def see(self, animal: m.Animal, trait: m.Trait, seen: str = "yes") -> None:
        """Write down a look."""
        with writing(by=self.by, what="Looked") as entry:
            entry.keep(
                m.Observation(
                    animal=animal, trait=trait, seen=seen, on=date(2026, 6, 1), by=self.by
                )
            )

    def born(self, code: str, dam: m.Animal, sire: m.Animal) -> m.Animal:
        """A young of two, not looked at."""
        return self.young(code, self.clutch(f"of-{code}", dam, sire), seen=None)


@pytest.fixture
def book(owner: m.Account) -> Looks:
    return Looks(owner)


def chance(animal: m.Animal, look: m.Trait | m.NamedLook) -> float | None:
    """The stored chance, which must be that of a recompute; None: it cannot show it."""
    assert inference.differences() == []
    of: dict[str, Any] = {"look" if isinstance(look, m.NamedLook) else "trait": look}
    row = m.Shows.objects.filter(animal=animal, **of).first()
    return None if row is None or row.chance == 0 else row.chance


def test_a_double_form_follows_from_two_copies_by_parentage(book: Looks) -> None:
    dam = book.founder("F-1", "female", "double", line=book.ulv)
    sire = book.founder("M-1", "male", "double", line=book.ulv)
    young = book.born("K-1", dam, sire)
    assert chance(young, book.double) == 1
    assert chance(dam, book.double) == 1


def test_the_young_of_two_single_forms_may_be_the_double_form(book: Looks) -> None:
    dam = book.founder("F-1", "female", "visual", line=book.ulv)
    sire = book.founder("M-1", "male", "visual", line=book.ulv)
    young = book.born("K-1", dam, sire)
    # Half of what either parent gives is the allele.
    assert chance(young, book.double) == pytest.approx(1 / 4)
    assert chance(dam, book.double) is None
    book.see(young, book.blaze, "no")
    # Of the two looks that are left, 1 double to 1 normal.
    assert chance(young, book.double) == pytest.approx(1 / 2)
    book.see(young, book.double)
    assert chance(young, book.double) == 1


def test_a_named_look_over_two_genes_is_their_product(book: Looks) -> None:
    look = book.name_look("Neapsedge", book.trait, book.blaze)
    dam = book.founder("F-1", "female", "carries")
    sire = book.founder("M-1", "male", "carries")
    with writing(by=book.by, what="Blaze too") as entry:
        book.say(entry, dam, "visual", None, book.ulv)
    young = book.born("K-1", dam, sire)
    # A quarter shows the recessive, half of all has the one copy of Blaze.
    assert chance(young, look) == pytest.approx(1 / 4 * 1 / 2)
    book.see(young, book.blaze)
    assert chance(young, look) == pytest.approx(1 / 4)
    book.see(young, book.trait)
    assert chance(young, look) == 1


def test_a_named_look_is_worked_out_for_whoever_is_there_already(book: Looks) -> None:
    visual = book.founder("F-1", "female", "visual")
    book.see(visual, book.blaze)
    look = book.name_look("Neapsedge", book.trait, book.blaze)
    assert chance(visual, look) == 1
    undo(entry=m.DaybookEntry.objects.order_by("-pk")[0], by=book.by)
    assert m.Shows.objects.filter(look=look).count() == 0
    assert inference.differences() == []


def test_genes_that_come_to_be_one_piece_leave_nothing_of_when_they_were_apart(book: Looks) -> None:
    look = book.name_look("Neapsedge", book.trait, book.blaze)
    dam, sire = (
        book.founder(code, sex, "visual") for code, sex in (("F", "female"), ("M", "male"))
    )
    with writing(by=book.by, what="Blaze too") as entry:
        book.say(entry, dam, "visual", None, book.ulv)
    young = book.born("K-1", dam, sire)
    # Both show the recessive and so does it, half of what its dam gives is Blaze.
    assert chance(young, look) == pytest.approx(1 / 2)
    with writing(by=book.by, what="Linked") as entry:
        loci = sorted((book.line.locus, book.ulv.locus), key=lambda one: one.pk)
        entry.keep(m.Interval(left=loci[0], right=loci[1], female="1/10", male="1/10"))
    assert chance(young, look) == pytest.approx(1 / 2)
    undo(entry=m.DaybookEntry.objects.order_by("-pk")[0], by=book.by)
    assert chance(young, look) == pytest.approx(1 / 2)


def test_what_hides_a_part_hides_the_look(book: Looks) -> None:
    book.double.hides.add(book.trait)
    look = book.name_look("Neapsedge", book.trait, book.blaze)
    hidden = book.name_look("Ebbsallow", book.trait, book.double)
    dam = book.founder("F-1", "female", "visual")
    with writing(by=book.by, what="Blaze too") as entry:
        book.say(entry, dam, "visual", None, book.ulv)
    sire = book.founder("M-1", "male", "visual")
    with writing(by=book.by, what="Blaze too") as entry:
        book.say(entry, sire, "visual", None, book.ulv)
    young = book.born("K-1", dam, sire)
    # All have two copies of the recessive; half of them one copy of Blaze, a quarter two.
    assert chance(young, look) == pytest.approx(1 / 2)
    assert chance(young, hidden) is None
    assert chance(young, book.double) == pytest.approx(1 / 4)


def test_a_part_may_be_of_some_lines_alone(book: Looks) -> None:
    pel = LineFactory.create(trait=book.trait, locus=book.line.locus, code="PEL")
    look = book.name_look("Neapsedge", book.trait, book.blaze, har=book.line)
    dam = book.founder("F-1", "female", "visual")
    sire = book.founder("M-1", "male", "carries")
    with writing(by=book.by, what="Blaze too") as entry:
        book.say(entry, dam, "double", None, book.ulv)
    mixed = book.founder("M-2", "male", "carries", line=pel)
    # Half of the young get a second HAR; of the other male's no young has two.
    assert chance(book.born("K-1", dam, sire), look) == pytest.approx(1 / 2)
    assert chance(book.born("K-2", dam, mixed), look) is None


def test_one_of_two_sires_ties_the_genes_of_a_look(book: Looks) -> None:
    look = book.name_look("Neapsedge", book.trait, book.blaze)
    dam = book.founder("F-1", "female", "visual")
    sire = book.founder("M-1", "male", "visual")
    with writing(by=book.by, what="Blaze too") as entry:
        book.say(entry, sire, "double", None, book.ulv)
    other = book.founder("M-2", "male", "clear")
    young = book.young("K-1", book.clutch("C-1", dam, sire, other), seen=None)
    # The one male gives both for certain, the other neither: half, and not a quarter.
    assert chance(young, look) == pytest.approx(1 / 2)


def test_a_trait_that_does_not_always_show_counts_with_its_share(book: Looks) -> None:
    m.Trait.objects.filter(pk=book.double.pk).update(penetrance="4/5")
    dam = book.founder("F-1", "female", "double", line=book.ulv)
    sire = book.founder("M-1", "male", "double", line=book.ulv)
    young = book.born("K-1", dam, sire)
    assert chance(young, book.double) == pytest.approx(4 / 5)
    book.see(young, book.double)
    assert chance(young, book.double) == 1


def test_a_combination_over_two_genes_is_one_chance(book: Looks) -> None:
    fog = TraitFactory.create(species=book.species, name="Fogbank", shown="rules")
    with writing(by=book.by, what="Combination") as entry:
        showing = entry.keep(m.Showing(trait=fog))
        entry.keep(m.Condition(showing=showing, dose="every"), lines=[book.line])
        entry.keep(m.Condition(showing=showing, dose="any"), lines=[book.ulv])
    dam = book.founder("F-1", "female", "carries")
    sire = book.founder("M-1", "male", "carries")
    with writing(by=book.by, what="Blaze too") as entry:
        book.say(entry, dam, "visual", None, book.ulv)
    assert chance(book.born("K-1", dam, sire), fog) == pytest.approx(1 / 4 * 1 / 2)


def test_a_look_under_dispute_is_marked(book: Looks) -> None:
    dam = book.founder("F-1", "female", "double", line=book.ulv)
    sire = book.founder("M-1", "male", "double", line=book.ulv)
    young = book.born("K-1", dam, sire)
    book.see(young, book.blaze, "yes")
    assert m.Dispute.objects.filter(closed=None).exists()
    row = m.Shows.objects.get(animal=young, trait=book.double)
    assert (row.chance, row.disputed) == (1, True)
    assert inference.differences() == []


def moves(entry: m.DaybookEntry) -> list[tuple[str, str, str, str]]:
    """What an entry is said to have moved of what animals show."""
    return [
        (
            str(one.animal),
            str(one.trait or one.look),
            said_to_show(one.chance_before, disputed=one.disputed_before),
            said_to_show(one.chance, disputed=one.disputed),
        )
        for one in moved_by(entry).looks
    ]


def test_an_entry_tells_what_it_moved_of_what_an_animal_shows(
    book: Looks, owner_client: Client
) -> None:
    look = book.name_look("Neapsedge", book.trait, book.blaze)
    dam = book.founder("F-1", "female", "carries")
    sire = book.founder("M-1", "male", "carries")
    with writing(by=book.by, what="Blaze too") as entry:
        book.say(entry, dam, "visual", None, book.ulv)
    young = book.born("K-1", dam, sire)
    last = m.DaybookEntry.objects.order_by("-pk")
    assert moves(last[0]) == [("K-1", "Neapsedge", "does not show it", "may show it, 12 %")]
    book.see(young, book.blaze)
    assert moves(last[0]) == [("K-1", "Neapsedge", "may show it, 12 %", "may show it, 25 %")]
    book.see(young, book.trait)
    assert moves(last[0]) == [("K-1", "Neapsedge", "may show it, 25 %", "shows it")]
    page = owner_client.get(reverse("daybook-entry", args=[last[0].pk])).content.decode()
    assert "may show it, 25 %</span> → <strong>shows it" in page
    assert look.name in page
    undo(entry=last[0], by=book.by)
    assert moves(last[0]) == [("K-1", "Neapsedge", "shows it", "may show it, 25 %")]
    book.see(young, book.trait, "no")
    assert moves(last[0]) == [("K-1", "Neapsedge", "may show it, 25 %", "does not show it")]


def test_an_entry_that_moves_nothing_shown_lists_nothing(book: Looks) -> None:
    book.name_look("Neapsedge", book.trait, book.blaze)
    book.founder("F-1", "female", "carries")
    assert moves(m.DaybookEntry.objects.order_by("-pk")[0]) == []


def test_a_recompute_drops_what_is_kept_of_genes_that_a_look_does_not_have(book: Looks) -> None:
    look = book.name_look("Neapsedge", book.trait, book.blaze)
    animal = book.founder("F-1", "female", "visual")
    with writing(by=book.by, what="Blaze too") as entry:
        book.say(entry, animal, "visual", None, book.ulv)
    row = m.Shows.objects.get(animal=animal, look=look)
    m.Shows.objects.filter(pk=row.pk).update(pieces=row.pieces | {"0": [1.0, 0.0, False]})
    assert len(inference.differences()) == 1
    with writing(by=None, what="Recomputed", of_records=False) as entry:
        inference.recompute(entry=entry.entry)
    assert inference.differences() == []
    assert chance(animal, look) == 1
