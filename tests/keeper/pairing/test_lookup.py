"""The pairing look-up: looks, chances, what to beware of, and the plot."""

from fractions import Fraction
from itertools import pairwise

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from keeper import models as m
from keeper.domain.book.writing import writing
from keeper.domain.saying.figures import kinship_like
from keeper.models import Account
from keeper.pages.frame.plot import plot
from keeper.pages.pairing.page import pairing_page
from tests.factories import AnimalFactory, ClutchFactory, LineFactory, SpeciesFactory, TraitFactory


@pytest.fixture
def species(db: None) -> m.Species:
    return SpeciesFactory.create(name="royal python", hatch_rate=Fraction(4, 5))


@pytest.fixture
def saltgrass(species: m.Species) -> m.Trait:
    trait = TraitFactory.create(
        species=species,
        name="Saltgrass",
        harm="Some have a weak eye.",
        harm_source="Marl Hollow notes, 2024",
    )
    LineFactory.create(trait=trait, code="HAR", name="Harvesk")
    return trait


def say(
    owner: Account, animal: m.Animal, line: m.Line, claim: str, chance: Fraction | None = None
) -> None:
    said = m.Statement(animal=animal, trait=line.trait, line=line, claim=claim)
    said.chance = chance
    with writing(by=owner, what="as bought") as book:
        book.keep(said)


@pytest.fixture
def pair(species: m.Species, saltgrass: m.Trait, owner: Account) -> tuple[m.Animal, m.Animal]:
    """Two possible hets of 66 %."""
    dam = AnimalFactory.create(species=species, code="F-014", sex="female")
    sire = AnimalFactory.create(species=species, code="M-003", sex="male")
    for animal in (dam, sire):
        say(owner, animal, saltgrass.lines.get(), "possible", Fraction(2, 3))
    return dam, sire


def test_chances_average_over_what_the_parents_may_be(pair: tuple[m.Animal, m.Animal]) -> None:
    page = pairing_page(*pair, eggs=8)
    assert page.eggs == (4, 8, 16)
    visual = page.looks[1]
    assert visual.name == "Saltgrass"
    assert visual.chance == pytest.approx(1 / 9)
    assert visual.at_least_one[1] == pytest.approx(4 / 9 * (1 - 0.75**8))


def test_page_prints_claims_rounded_down_and_harm_rounded_up(
    owner_client: Client, pair: tuple[m.Animal, m.Animal]
) -> None:
    dam, sire = pair
    page = owner_client.get(
        reverse("clutches-pairing"), {"dam": dam.pk, "sire": sire.pk, "eggs": 2}
    )
    assert page.context["page"].eggs == (2, 4, 8, 16)
    shown = page.content.decode()
    # Saltgrass harms: 1/9, then 4/9 of 1 - 0.75^n, is 19.4, 30.4, 39.995 and 44.0 %.
    harmful = ("12 %", "20 %", "31 %", "40 %", "44 %")
    cells = [f'<td class="number">{figure}</td>' for figure in ("88 %", *harmful)]
    assert [cell for cell in cells if cell not in shown] == []
    assert "<strong>Harm.</strong> 12 % of the hatchlings" in shown
    harm = shown.index("Some have a weak eye.")
    assert harm < shown.index("What can be seen")
    assert "Marl Hollow notes, 2024" in shown
    assert f"{reverse('clutches-new')}?dam={dam.pk}&amp;sire={sire.pk}" in shown
    assert "of royal python eggs 80 % hatch" in shown
    assert "no ancestor in common in this book" in shown


def test_codes_lead_to_an_address_to_keep(
    owner_client: Client, pair: tuple[m.Animal, m.Animal]
) -> None:
    dam, sire = pair
    answer = owner_client.get(
        reverse("clutches-pairing"), {"dam_code": "f-014", "sire_code": "M-003", "eggs": "12"}
    )
    assert answer["Location"] == (
        f"{reverse('clutches-pairing')}?dam={dam.pk}&sire={sire.pk}&eggs=12"
    )


def test_two_species_are_told_apart(owner_client: Client, pair: tuple[m.Animal, m.Animal]) -> None:
    corn = AnimalFactory.create(
        species=SpeciesFactory.create(name="corn snake"), code="C-1", sex="male"
    )
    said = "F-014 is a royal python and C-1 is a corn snake. Choose two of one."
    for asked in ({"dam": pair[0].pk, "sire": corn.pk}, {"dam_code": "F-014", "sire_code": "C-1"}):
        page = owner_client.get(reverse("clutches-pairing"), asked)
        assert page.context["form"].errors == {"sire_code": [said]}


def test_without_a_dam_it_says_what_to_do(owner_client: Client, db: None) -> None:
    page = owner_client.get(reverse("clutches-pairing"), {"dam": "nobody"}).content.decode()
    assert "Name a dam and a sire" in page


def test_a_pair_that_shows_nothing_is_told(
    owner_client: Client, pair: tuple[m.Animal, m.Animal], species: m.Species
) -> None:
    plain = AnimalFactory.create(species=species, code="M-9", sex="male")
    page = owner_client.get(
        reverse("clutches-pairing"), {"dam": pair[0].pk, "sire": plain.pk}
    ).content.decode()
    assert "Nothing can show." in page
    assert "What a hatchling carries" in page and "33 %" in page


def test_lines_that_would_mix_are_told(
    owner_client: Client, owner: Account, saltgrass: m.Trait, species: m.Species
) -> None:
    other = LineFactory.create(trait=saltgrass, code="PEL", name="Pelnaw")
    dam = AnimalFactory.create(species=species, code="F-1", sex="female")
    sire = AnimalFactory.create(species=species, code="M-1", sex="male")
    say(owner, dam, saltgrass.lines.get(code="HAR"), "carries")
    say(owner, sire, other, "carries")
    asked = {"dam": dam.pk, "sire": sire.pk}
    page = owner_client.get(reverse("clutches-pairing"), asked)
    mixed = page.context["page"].mixed
    assert [(str(one.dam_line), str(one.sire_line), one.open) for one in mixed] == [
        ("Saltgrass HAR", "Saltgrass PEL", False)
    ]
    assert mixed[0].chance == pytest.approx(1 / 4)
    assert "two genes that look alike" in page.content.decode()


def test_kinship_of_the_pair_is_the_inbreeding_of_its_young(
    owner_client: Client, species: m.Species, pair: tuple[m.Animal, m.Animal]
) -> None:
    clutch = ClutchFactory.create(dam=pair[0])
    m.CandidateSire.objects.create(clutch=clutch, sire=pair[1])
    dam = AnimalFactory.create(species=species, clutch=clutch, sex="female")
    sire = AnimalFactory.create(species=species, clutch=clutch, sex="male")
    page = pairing_page(dam, sire, eggs=None)
    assert (page.kinship, page.kinship_like) == (
        "0.25",
        "as of full sibs, or a parent and its young",
    )


@pytest.mark.parametrize(
    ("kinship", "words"),
    [
        (0, "no ancestor in common in this book"),
        (0.375, "closer than full sibs, or a parent and its young"),
        (0.125, "as of half-sibs"),
        (0.1, "closer than first cousins"),
        (0.001, "more distant than second cousins"),
    ],
)
def test_kinship_is_likened_to_known_relations(kinship: float, words: str) -> None:
    assert kinship_like(kinship) == words


def test_look_up_asks_as_often_for_many_animals_as_for_few(
    owner_client: Client,
    pair: tuple[m.Animal, m.Animal],
    species: m.Species,
) -> None:
    asked = {"dam": pair[0].pk, "sire": pair[1].pk}
    counts = []
    for turn in range(2):
        with CaptureQueriesContext(
            connection,
        ) as seen:
            owner_client.get(reverse("clutches-pairing"), asked)
        counts.append(len(seen))
        for number in range(3):
            trait = TraitFactory.create(species=species, name=f"Quillwort {turn}{number}")
            LineFactory.create(trait=trait)
            AnimalFactory.create_batch(3, species=species, sex="female")
    assert counts[0] == counts[1]


def test_curves_rise_to_the_right_and_their_letters_stay_apart() -> None:
    same = {number: 1 - 0.5**number for number in range(1, 17)}
    drawn = plot([("one", same), ("two", same), ("three", same)], 16)
    assert [curve.letter for curve in drawn.curves] == ["a", "b", "c"]
    heights = sorted(curve.label for curve in drawn.curves)
    assert min(b - a for a, b in pairwise(heights)) >= 15
    points = drawn.curves[0].path[1:].split("L")
    assert len(points) == 16
    ups = [float(point.split()[1]) for point in points]
    assert ups == sorted(ups, reverse=True)
    assert [tick.text for tick in drawn.across] == ["1", "4", "8", "16"]
