"""The figures of mates: those of the pairing look-up and of projects, and cases worked by hand."""

from collections.abc import Sequence
from datetime import date
from fractions import Fraction

import pytest

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.writing import writing
from keeper.domain.inference import Guest, GuestWord, Proof
from keeper.domain.mates import queries, ranking
from keeper.domain.mates.ranking import Rank, hatchlings_of
from keeper.domain.prospects.writes import as_if_here
from keeper.models import Account, Animal, Claim, Project, ProspectWord, Sex
from tests.factories import LineFactory, SpeciesFactory, TraitFactory
from tests.keeper.books import Book
from tests.keeper.counting import queries_of
from tests.keeper.prospects.rows import Yard, yard

TODAY = date(2026, 11, 29)
EGGS = (1, 4, 8)


@pytest.fixture
def place(owner: Account) -> Yard:
    return yard(owner)


def now(animal: Animal) -> Animal:
    found: Animal = Animal.objects.select_related("species").get(pk=animal.pk)
    return found


def males(place: Yard) -> list[Animal]:
    """Mates of every kind: what the project wants, another gene, an open pair, and nothing."""
    place.here("M-1", "male", (place.har, "visual"), (place.dun, "carries"))
    place.here("M-2", "male", (place.pel, "visual"))
    place.here("M-3", "male", (place.tor, "carries"), (place.dun, "visual"))
    place.here("M-4", "male")
    return list(queries.mates_here(place.species, Sex.MALE))


def test_each_pair_has_the_figures_of_the_pairing_look_up_and_of_its_project(place: Yard) -> None:
    dam = now(place.here("F-1", "female", (place.har, "carries"), (place.dun, "carries")))
    mates = males(place)
    asked = inference.mates_of(dam, mates)
    alone = [inference.pairing(dam, mate, eggs=EGGS) for mate in mates]
    for one, other in zip(asked.pairings(range(4), EGGS), alone, strict=True):
        assert one is not None
        assert [look.traits for look in one.looks] == [look.traits for look in other.looks]
        for look, same in zip(one.looks, other.looks, strict=True):
            assert look.chance == pytest.approx(same.chance, abs=1e-12)
            assert look.at_least_one == pytest.approx(same.at_least_one, abs=1e-12)
        assert [(x.trait, {x.dam_line, x.sire_line}, x.open) for x in one.mixing] == [
            (x.trait, {x.dam_line, x.sire_line}, x.open) for x in other.mixing
        ]
        assert [x.chance for x in one.mixing] == pytest.approx([x.chance for x in other.mixing])
        assert (one.harmful, one.masking, one.kinship) == (
            other.harmful,
            other.masking,
            other.kinship,
        )
    for mate, goal in zip(mates, asked.goals(place.project, EGGS), strict=True):
        assert goal is not None
        told = inference.pair_goal(place.project, dam, mate, eggs=EGGS)
        assert goal.each == pytest.approx(told.each, abs=1e-12)
        assert goal.at_least_one == pytest.approx(told.at_least_one, abs=1e-12)
    # By hand: half of the young of a het and a visual show HAR, a quarter of two hets' Quillwort.
    first = asked.goals(place.project, EGGS)[0]
    assert first is not None
    assert first.each == pytest.approx(1 / 8)
    assert first.at_least_one[8] == pytest.approx(1 - (7 / 8) ** 8)


def proof_of(dam: Animal, mate: Animal, hatchlings: int) -> Proof:
    ((one,),) = inference.mates_of(now(dam), [now(mate)]).proofs(hatchlings)
    return one


def test_a_clutch_with_a_visual_tells_as_worked_by_hand(owner: Account) -> None:
    book = Book(owner)
    dam = book.founder("F-1", "female", "possible", "2/3")
    one = proof_of(dam, book.founder("M-1", "male", "visual"), 3)
    # A het has (1/2)³ of three clean young by a visual: 2/3 · 7/8, and 2/3 · 1/8 of the rest.
    assert one.prior == pytest.approx(2 / 3)
    assert one.proven == pytest.approx(2 / 3 * 7 / 8)
    assert one.left == pytest.approx((2 / 3 / 8) / (2 / 3 / 8 + 1 / 3))
    assert one.for_95 == 5
    # 20 % is left: that clears nothing. Six clean ones leave 1 in 33, which does.
    assert one.settled == pytest.approx(one.proven)
    six = proof_of(dam, m.Animal.objects.get(code="M-1"), 6)
    assert six.left == pytest.approx((2 / 3 / 64) / (2 / 3 / 64 + 1 / 3))
    assert six.settled == pytest.approx(1)


def test_two_possible_hets_are_weighed_together(owner: Account) -> None:
    book = Book(owner)
    dam = book.founder("F-1", "female", "possible", "2/3")
    one = proof_of(dam, book.founder("M-1", "male", "possible", "1/2"), 8)
    # Only with both does anything show: 1/4 of each egg.
    assert one.proven == pytest.approx(2 / 3 * 1 / 2 * (1 - 0.75**8))
    assert one.for_95 is None
    clean = 2 / 3 * (1 / 2 + 1 / 2 * 0.75**8)
    assert one.left == pytest.approx(clean / (clean + 1 / 3))


def test_sibs_that_may_share_a_gene_are_not_weighed_apart(owner: Account) -> None:
    book = Book(owner)
    mother = book.founder("F-1", "female", "carries")
    clutch = book.clutch("C-1", mother, book.founder("M-1", "male", "possible", "1/2"))
    dam = book.young("F-2", clutch, seen=False, sex="female")
    sire = book.young("M-2", clutch, seen=False, sex="male")
    one = proof_of(dam, sire, 8)
    # By counting. With a plain sire each is het with 1/2. With a het sire three quarters of the
    # young look normal, and each of the two is het with 2/3 of these.
    plain, het = Fraction(1, 2), Fraction(1, 2) * Fraction(3, 4) ** 2
    both = (plain * Fraction(1, 4) + het * Fraction(4, 9)) / (plain + het)
    prior = (plain * Fraction(1, 2) + het * Fraction(2, 3)) / (plain + het)
    assert one.prior == pytest.approx(float(prior))
    assert one.proven == pytest.approx(float(both) * (1 - 0.75**8))
    assert float(both) != pytest.approx(float(prior) ** 2)


def test_a_mate_that_carries_nothing_proves_nothing_and_a_certain_carrier_needs_no_proof(
    owner: Account,
) -> None:
    book = Book(owner)
    dam = book.founder("F-1", "female", "possible", "2/3")
    proven = book.founder("F-2", "female", "carries")
    mates = [now(book.founder("M-1", "male")), now(book.founder("M-2", "male", "visual"))]
    assert [len(one) for one in inference.mates_of(now(dam), mates).proofs(4)] == [0, 1]
    assert inference.mates_of(now(proven), mates).proofs(4) == [(), ()]


def test_a_look_that_is_mistaken_for_another_proves_nothing(owner: Account) -> None:
    book = Book(owner)
    m.Trait.objects.update(mistaken=Fraction(1, 100))
    dam = book.founder("F-1", "female", "possible", "2/3")
    mate = book.founder("M-1", "male", "visual")
    assert inference.mates_of(now(dam), [now(mate)]).proofs(4) == [()]


# --- an animal that is not in the book ---------------------------------------------------------


def test_a_guest_has_the_figures_that_its_purchase_would_give(place: Yard) -> None:
    said = [
        place.word(place.har, "carries"),
        place.word(place.dun, "possible", "2/3"),
    ]
    prospect = place.prospect(*said, source=None)
    mates = males(place)

    def entered(animal: Animal) -> tuple[list[float], list[tuple[tuple[int, ...], float]]]:
        couples = [(animal, mate) for mate in mates]
        goals = inference.pair_goals(place.project, couples, eggs=EGGS)
        looks = [
            (look.traits, look.chance)
            for mate in mates
            for look in inference.pairing(animal, mate, eggs=EGGS).looks
        ]
        return [one.at_least_one[8] for one in goals], looks

    goals, looks = as_if_here(prospect=prospect, by=place.by, ask=entered)
    asked = inference.mates_of(guest(place, "female", *said), mates)
    found = [one for one in asked.goals(place.project, EGGS) if one]
    assert [one.at_least_one[8] for one in found] == pytest.approx(goals, abs=1e-12)
    pairings = [one for one in asked.pairings(range(4), EGGS) if one]
    told = [(look.traits, look.chance) for one in pairings for look in one.looks]
    assert [traits for traits, _ in told] == [traits for traits, _ in looks]
    assert [p for _, p in told] == pytest.approx([p for _, p in looks], abs=1e-12)
    assert not Animal.objects.filter(code__startswith="P").exists()


def guest(place: Yard, sex: str, *words: ProspectWord) -> Guest:
    chance = m.ChanceField().to_python
    said = [GuestWord(one.trait_id, one.line_id, one.claim, chance(one.chance)) for one in words]
    return Guest(place.species, sex, tuple(said))


def test_a_guest_brings_genes_that_nobody_here_has(place: Yard) -> None:
    mates = [place.here("M-4", "male")]
    asked = inference.mates_of(guest(place, "female", place.word(place.har, "visual")), mates)
    (pairing,) = asked.pairings([0], EGGS)
    assert pairing is not None
    # A visual with a plain mate shows nothing, and with itself everything: its gene is there.
    assert [look.traits for look in pairing.looks] == [()]
    single = TraitFactory.create(species=place.species, name="Tideglass", shown="single")
    line = LineFactory.create(trait=single, code="MAR")
    bright = Guest(place.species, "female", (GuestWord(single.pk, line.pk, Claim.VISUAL),))
    (shown,) = inference.mates_of(bright, mates).pairings([0], EGGS)
    assert shown is not None
    assert {look.traits: look.chance for look in shown.looks} == pytest.approx(
        {(): 1 / 2, (single.pk,): 1 / 2}
    )
    assert asked.kinships([0]) == [0.0]


def test_a_guest_of_a_line_not_known_is_spread_over_its_lines(place: Yard) -> None:
    mates = [place.here("M-2", "male", (place.pel, "visual"))]
    asked = inference.mates_of(guest(place, "female", place.word(None, "carries")), mates)
    (one,) = asked.pairings([0], EGGS)
    assert one is not None
    # It is PEL with 1 in 3: half of its young with a visual PEL show it then.
    (shown,) = [look for look in one.looks if look.traits]
    assert shown.chance == pytest.approx(1 / 3 * 1 / 2)


# --- the sex of an animal ----------------------------------------------------------------------


def test_a_sex_that_is_taken_gives_what_the_same_animal_of_it_would(owner: Account) -> None:
    recorded = [_linked(owner, 1, "female", "female"), _linked(owner, 2, "male", "male")]
    taken = [_linked(owner, 3, "unknown", "female"), _linked(owner, 4, "unknown", "male")]
    assert taken == pytest.approx(recorded)
    # By hand: a daughter carries it with 1/2, and half of her young by a visual show it then; a
    # son has it with 1/2, and gives a visual mate's daughters, beside all her sons.
    assert recorded == pytest.approx([1 / 4, 1 / 2 * 1 / 2 + 1 / 2])


def _linked(owner: Account, number: int, sex: str, ask_as: str) -> float:
    """The chance of a look on the X in the young of a carrier's young with a visual mate."""
    species = SpeciesFactory.create(name=f"species {number}", sex_determination="XY")
    trait = TraitFactory.create(species=species, name="Ebb")
    line = LineFactory.create(trait=trait, code="EBB")
    m.Locus.objects.filter(pk=line.locus_id).update(chromosome="one")
    other = Sex.MALE if ask_as == Sex.FEMALE else Sex.FEMALE
    with writing(by=owner, what="Wrote a case") as book:
        dam = book.keep(Animal(species=species, code=f"F-{number}", sex="female"))
        book.keep(m.Statement(animal=dam, trait=trait, line=line, claim=Claim.CARRIES))
        one = book.keep(Animal(species=species, code=f"Y-{number}", sex=sex, dam=dam))
        mate = book.keep(Animal(species=species, code=f"M-{number}", sex=other))
        book.keep(m.Statement(animal=mate, trait=trait, line=line, claim=Claim.VISUAL))
    (pairing,) = inference.mates_of(now(one), [now(mate)], sex=ask_as).pairings([0], EGGS)
    assert pairing is not None
    return sum(look.chance for look in pairing.looks if trait.pk in look.traits)


def test_without_a_sex_no_mate_is_asked_for(place: Yard) -> None:
    with pytest.raises(ValueError, match="whose sex is not known"):
        inference.mates_of(guest(place, "unknown"), [])


# --- the order ---------------------------------------------------------------------------------


def ranks(place: Yard, animal: Animal, mates: Sequence[Animal]) -> list[Rank]:
    asked = inference.mates_of(now(animal), mates)
    return ranking.ranked(asked, queries.projects_of(place.species), 4)


def test_projects_come_first_then_what_a_clutch_tells_then_kinship(place: Yard) -> None:
    dam = place.here("F-1", "female", (place.har, "visual"))
    with writing(by=place.by, what="As bought") as book:
        trait = place.dun.trait
        said = m.Statement(animal=dam, trait=trait, line=place.dun, claim="possible", chance="1/2")
        book.keep(said)
    found = ranks(place, dam, males(place))
    # A goal with one in 8 goes before a proof with nearly a half.
    assert [one.mate.code for one in found] == ["M-1", "M-3", "M-2", "M-4"]
    first, second, third, _ = found
    assert first.projects[0].each == pytest.approx(1 / 2 * 1 / 4)
    assert second.projects == ()
    assert second.proofs[0].proven == pytest.approx(1 / 2 * (1 - 0.5**4))
    assert not third.is_worth_it


def test_hatchlings_are_never_rounded_up() -> None:
    species = SpeciesFactory.build(eggs_usual=6, hatch_rate=Fraction(4, 5))
    assert hatchlings_of(species) == 4
    assert hatchlings_of(SpeciesFactory.build(eggs_usual=1, hatch_rate=Fraction(1, 5))) == 1


def test_it_asks_as_much_for_twelve_mates_as_for_three(place: Yard) -> None:
    dam = place.here("F-1", "female", (place.har, "carries"), (place.dun, "carries"))
    for number in range(12):
        place.here(f"M-{number}", "male", (place.har, "carries"), (place.dun, "carries"))
    every = list(queries.mates_here(place.species, Sex.MALE))

    def ask(mates: Sequence[Animal]) -> None:
        found = ranks(place, dam, mates)
        inference.mates_of(now(dam), mates).pairings(range(len(mates)), EGGS)
        assert len(found) == len(mates)

    ask(every[:3])
    assert queries_of(lambda: ask(every[:3])) == queries_of(lambda: ask(every))


def test_a_project_that_is_closed_is_not_asked_for(place: Yard) -> None:
    Project.objects.update(closed_on=TODAY)
    assert queries.projects_of(place.species) == []
