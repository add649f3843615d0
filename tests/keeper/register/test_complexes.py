"""An allelic complex: its names on one page, the rows they come to, and what is bred from them.

Ratios follow from segregation (Mendel 1866) at one locus with several alleles.
"""

from typing import Any

import pytest
from django.test import Client

from keeper import models as m
from keeper.domain.book.undoing import undo
from keeper.domain.register.complexes import Combination, all_combinations, looks_of
from tests.factories import LocusFactory, SpeciesFactory, TraitFactory
from tests.keeper.register.test_templates import animal, looks

LINES = {
    "name": "Estuary",
    "parts": "3",
    "line0-code": "cha",
    "line0-name": "Chalk",
    "line1-code": "ree",
    "line1-name": "Reedling",
}


@pytest.fixture
def species(db: None) -> m.Species:
    return SpeciesFactory.create(name="Royal python")


def address(species: m.Species) -> str:
    return f"/register/species/{species.pk}/traits/new/complex/"


def added(client: Client, species: m.Species, **names: str) -> m.Locus:
    """Add the two lines; names by combination, `look_0_1` for one copy of each."""
    sent = LINES | {"asked": "0,1"}
    sent |= {name.replace("_", "-"): text for name, text in names.items()}
    answer = client.post(address(species), sent)
    assert answer.status_code == 302, answer.content.decode()
    locus: m.Locus = m.Locus.objects.get(name="Estuary")
    assert answer.headers["Location"].startswith(f"/register/loci/{locus.pk}/?moved=")
    return locus


def test_each_combination_has_the_look_that_was_named(
    owner_client: Client, owner: m.Account, species: m.Species
) -> None:
    added(
        owner_client,
        species,
        look_0="Chalk",
        look_1="Reed",
        look_0_0="Twice chalk",
        look_0_1="Marrowglass",
    )
    shown = dict(m.Trait.objects.values_list("name", "shown"))
    assert shown == {
        "Chalk": "single",
        "Twice chalk": "every",
        "Reed": "dominant",
        "Marrowglass": "rules",
    }
    cha, ree = m.Line.objects.get(code="CHA"), m.Line.objects.get(code="REE")
    dam = animal(owner, "F1", "female", ("carries", cha), ("carries", ree))
    chalk = animal(owner, "M1", "male", ("carries", cha))
    reed = animal(owner, "M2", "male", ("double", ree))
    assert looks(dam, chalk) == {
        ("Chalk",): 0.25,
        ("Reed",): 0.25,
        ("Twice chalk",): 0.25,
        ("Marrowglass",): 0.25,
    }
    assert looks(dam, reed) == {("Marrowglass",): 0.5, ("Reed",): 0.5}
    entry = m.DaybookEntry.objects.get(what__startswith="Added the complex")
    assert entry.what == "Added the complex Estuary: Chalk, Reed, Twice chalk, Marrowglass"
    page = owner_client.get(f"/register/loci/{cha.locus_id}/").content.decode()
    assert 'Twice chalk</a> <span class="soft">double form of Chalk</span>' in page
    assert 'Marrowglass</a> <span class="soft">by combinations</span>' in page


def test_one_name_in_several_places_is_one_look(
    owner_client: Client, owner: m.Account, species: m.Species
) -> None:
    # Multiple recessive alleles, each with itself and with the other.
    added(owner_client, species, look_0_0="Whitecap", look_1_1="whitecap", look_0_1="Whitecap")
    trait = m.Trait.objects.get()
    assert (trait.name, trait.shown, trait.lines.count()) == ("Whitecap", "recessive", 2)
    cha, ree = m.Line.objects.get(code="CHA"), m.Line.objects.get(code="REE")
    dam = animal(owner, "F1", "female", ("carries", cha))
    sire = animal(owner, "M1", "male", ("carries", ree))
    assert looks(dam, sire) == {(): 0.75, ("Whitecap",): 0.25}


def test_lines_are_asked_for_before_their_combinations(
    owner_client: Client, species: m.Species
) -> None:
    page = owner_client.get(address(species)).content.decode()
    assert "Next: name what they show" in page
    assert "One copy of each" not in page
    page = owner_client.post(address(species), LINES).content.decode()
    assert "CHA with REE" in page
    assert 'name="asked" value="0,1"' in page
    assert m.DaybookEntry.objects.count() == 0


def test_a_line_that_came_later_is_asked_about_and_nothing_typed_is_lost(
    owner_client: Client, species: m.Species
) -> None:
    later = {"line2-code": "mar", "line2-name": "Marl", "asked": "0,1", "look-0": "Chalk"}
    page = owner_client.post(address(species), LINES | later).content.decode()
    assert "CHA with MAR" in page
    assert 'value="Chalk"' in page
    assert m.DaybookEntry.objects.count() == 0


def test_more_lines_are_offered_up_to_six(owner_client: Client, species: m.Species) -> None:
    sent = LINES | {"rows": "4"}
    page = owner_client.post(address(species), sent).content.decode()
    assert 'name="line3-code"' in page
    assert 'value="Reedling"' in page
    named = {"asked": "0,1", "look-0": "Chalk", "look-1": "Reed"}
    page = owner_client.post(address(species), sent | named).content.decode()
    assert 'name="line3-code"' in page
    assert 'value="Reed"' in page
    assert m.DaybookEntry.objects.count() == 0
    page = owner_client.post(address(species), LINES | {"rows": "60"}).content.decode()
    assert 'name="line5-code"' in page
    assert 'name="line6-code"' not in page
    assert "One more line" not in page


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({"line1-code": "", "line1-name": ""}, "Name two lines at least: code and name of each."),
        ({"line1-code": "cha"}, "Another line here has the code CHA. Choose another."),
        (
            {"look-0": "Chalk", "asked": "0,1"},
            "REE is in no combination that has a name. Name one, or take the line out.",
        ),
        (
            {"look-0": "Taken", "look-1": "Reed", "asked": "0,1"},
            ("This name is in use already. Choose another."),
        ),
        (
            {"name": "quill", "look-0-1": "Reed", "asked": "0,1"},
            "This name is in use already. Choose another.",
        ),
    ],
)
def test_what_is_not_in_order_is_said_and_nothing_is_kept(
    owner_client: Client, species: m.Species, sent: dict[str, str], said: str
) -> None:
    TraitFactory.create(species=species, name="Taken")
    LocusFactory.create(species=species, name="Quill")
    page = owner_client.post(address(species), LINES | sent).content.decode()
    assert said in page
    assert 'value="Chalk"' in page
    assert m.Line.objects.count() == 0


def test_one_undo_takes_the_whole_complex_back(
    owner_client: Client, owner: m.Account, species: m.Species
) -> None:
    added(owner_client, species, look_0="Chalk", look_1="Reed", look_0_1="Marrowglass")
    undo(entry=m.DaybookEntry.objects.get(), by=owner)
    made = (m.Trait, m.Line, m.Locus, m.Showing, m.Condition)
    assert [model.objects.live().count() for model in made] == [0] * 5


def shown_by(look: Any, count: int) -> set[Combination]:
    """The combinations on which a look is expressed as it is kept, hidden or not."""
    if look.shown == "rules":
        return set(look.seen_on)
    own = set(look.base.lines if look.base else look.lines)
    copies = {"recessive": {2}, "every": {2}, "single": {1}, "dominant": {1, 2}}[look.shown]
    return {
        one for one in all_combinations(range(count)) if sum(line in own for line in one) in copies
    }


@pytest.mark.parametrize(
    "names",
    [
        {(0,): "A", (1,): "B", (0, 0): "AA", (1, 1): "BB", (0, 1): "AB"},
        {(0,): "A", (1,): "B"},
        {(0,): "A", (1,): "A", (0, 0): "X", (1, 1): "X", (0, 1): "X"},
        {(0,): "A", (1,): "A", (0, 0): "X", (1, 1): "Y"},
        {(0,): "A", (1,): "B", (0, 1): "A"},
        {(0,): "A", (0, 0): "A", (1, 1): "B", (0, 1): "C"},
        {(0, 0): "A", (1, 1): "A"},
        {(0, 1): "C"},
        {(0,): "A", (1,): "B", (2,): "C", (0, 1): "D", (1, 2): "D", (0, 2): "E", (2, 2): "D"},
        {(0,): "A", (1, 1): "B", (1, 2): "B", (2, 2): "C", (0, 2): "B"},
        {(0,): "A", (1,): "B", (2,): "B", (0, 1): "A", (0, 2): "B"},
    ],
)
def test_looks_are_seen_on_exactly_what_was_named_and_what_that_leaves(
    names: dict[Combination, str],
) -> None:
    count = max(max(one) for one in names) + 1
    seen: dict[Combination, set[str]] = {}
    for one in all_combinations(range(count)):
        # What the page says: a name of its own, else what one copy of each line shows.
        own = {names[one]} if one in names else {names[(x,)] for x in one if (x,) in names}
        seen[one] = own
    kept: dict[Combination, set[str]] = {one: set() for one in seen}
    found = looks_of(range(count), names)
    for one, there in kept.items():
        expressed = [look for look in found if one in shown_by(look, count)]
        hidden = {id(other) for look in expressed for other in look.hides}
        there |= {look.name for look in expressed if id(look) not in hidden}
    assert kept == seen
