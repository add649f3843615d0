"""Pages with a pedigree: links, choices, the empty state, the list, and who may see them."""

import re

import pytest
from django.test import Client
from django.urls import reverse

from keeper.models import Account, Project
from tests.factories import AnimalFactory
from tests.keeper.pedigree.rows import Yard, die, yard


@pytest.fixture
def small(owner: Account) -> Yard:
    return yard(owner)


def page(client: Client, name: str, pk: int, **query: str) -> str:
    answer = client.get(reverse(name, args=[pk]), query)
    assert answer.status_code == 200
    return answer.content.decode()


def drawing(text: str) -> str:
    return text.partition('<svg class="pedigree"')[2].partition("</svg>\n</div>")[0]


def test_the_animals_page_draws_it_with_every_animal_a_link(
    owner_client: Client, small: Yard
) -> None:
    drawn = drawing(page(owner_client, "animals-one", small["D-1"].pk))
    linked = set(re.findall(r'<a href="([^"]+)"', drawn))
    animals = {reverse("animals-one", args=[small[code].pk]) for code in
               ("G-1", "G-2", "D-1", "S-1", "K-1", "K-2")}  # fmt: skip
    assert linked == animals | {reverse("clutches-one", args=[small.clutch.pk])}
    assert "K-1, female. Saltgrass HAR: visual" in drawn


def test_without_parents_and_young_the_animals_page_says_so(
    owner_client: Client, small: Yard
) -> None:
    alone = AnimalFactory.create(species=small.book.species, code="Z-9")
    text = page(owner_client, "animals-one", alone.pk)
    assert "No parents recorded, and no young." in text
    assert drawing(text) == ""
    assert "No parents and no young are recorded." in page(
        owner_client, "animals-pedigree", alone.pk
    )


def test_nothing_in_it_is_refused_by_the_policy(owner_client: Client, small: Yard) -> None:
    text = page(owner_client, "animals-pedigree", small["D-1"].pk)
    assert not re.search(r"\sstyle=|\son\w+=|<style|<script(?![^>]*\ssrc=)", text)


def test_the_choices_are_kept_in_the_address(owner_client: Client, small: Yard) -> None:
    pk, gene = small["K-1"].pk, f"trait-{small.book.trait.pk}"
    text = page(owner_client, "animals-pedigree", pk, gene=gene, up="1", down="0", size="large")
    assert f'<option value="{gene}" selected>Saltgrass</option>' in text
    assert '<input type="hidden" name="size" value="large">' in text
    assert "G-1" not in drawing(text)
    assert f"?gene={gene}&amp;up=1&amp;down=0&amp;size=small" in text
    assert "G-1" in drawing(page(owner_client, "animals-pedigree", pk, up="2"))


def test_sizes_differ_and_what_means_nothing_is_passed_over(
    owner_client: Client, small: Yard
) -> None:
    pk = small["K-1"].pk

    def width(**query: str) -> str:
        found = re.search(r'viewBox="[^"]+" width="([^"]+)"', page(
            owner_client, "animals-pedigree", pk, **query))  # fmt: skip
        assert found
        return found[1]

    plain = float(width())
    assert float(width(size="large")) == pytest.approx(plain * 1.5, abs=1)
    assert float(width(size="small")) == pytest.approx(plain * 0.7, abs=1)
    assert width(size="whole") == "100%"
    assert float(width(size="'\x00", up="99999999999999999999", down="-1", gene="x")) == plain


def test_the_list_says_the_same_for_readers_of_screens(
    owner_client: Client, owner: Account, small: Yard
) -> None:
    die(small["S-1"], owner)
    text = page(owner_client, "animals-pedigree", small["D-1"].pk)
    listed = text.partition('<details class="pedigree-list">')[2].partition("</details>")[0]
    assert "S-1, male, died. Saltgrass HAR: proven" in listed
    assert "Dam D-1, sire S-1." in listed
    assert "3 hatchlings without a record" in listed
    assert "No parents recorded." in listed
    assert listed.count('<li><span class="soft">') == 3


def test_the_legend_explains_what_is_drawn_and_nothing_else(
    owner_client: Client, owner: Account, small: Yard
) -> None:
    text = page(owner_client, "animals-pedigree", small["D-1"].pk)
    legend = text.partition('class="pedigree-legend"')[2].partition("</div>")[0]
    assert "Filled: it showed Saltgrass." in legend
    assert "Line across" not in legend and "Double line" not in legend
    die(small["S-1"], owner)
    text = page(owner_client, "animals-pedigree", small["D-1"].pk)
    assert "Line across: died." in text


def test_a_clutch_a_project_and_a_line_have_theirs(
    owner_client: Client, owner: Account, small: Yard
) -> None:
    project = Project.objects.create(species=small.book.species, name="Pale tide")
    for name, pk in (
        ("clutches-one", small.clutch.pk),
        ("clutches-pedigree", small.clutch.pk),
        ("register-line", small.book.line.pk),
        ("register-line-pedigree", small.book.line.pk),
    ):
        assert reverse("animals-one", args=[small["G-1"].pk]) in drawing(
            page(owner_client, name, pk)
        )
    assert reverse("projects-pedigree", args=[project.pk]) not in page(
        owner_client, "projects-one", project.pk
    )
    assert "No parents and no young" in page(owner_client, "projects-pedigree", project.pk)


def test_a_line_that_nobody_carries(owner_client: Client, owner: Account, small: Yard) -> None:
    from tests.factories import LineFactory

    none = LineFactory.create(trait=small.book.trait, code="DUN")
    assert "Nobody in the book is known to carry it" in page(owner_client, "register-line", none.pk)


NAMES = ("animals-pedigree", "clutches-pedigree", "projects-pedigree", "register-line-pedigree")


@pytest.mark.parametrize("name", NAMES)
def test_they_need_a_log_in_and_something_to_draw(
    name: str, client: Client, owner_client: Client, small: Yard
) -> None:
    answer = client.get(reverse(name, args=[1]))
    assert (answer.status_code, answer["Location"].split("?")[0]) == (302, "/log-in/")
    assert owner_client.get(reverse(name, args=[999_999])).status_code == 404
    assert owner_client.post(reverse(name, args=[1])).status_code == 405
