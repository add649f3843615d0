"""Mixed lines from the pair to the visual that could be either, and a gene on his X."""

from fractions import Fraction

import pytest
from playwright.sync_api import Page, expect

from keeper.models import Account
from tests.factories import LineFactory, LocusFactory
from tests.journeys.conftest import Axe, OpenAs, settled
from tests.keeper.animals.mixed_rows import TwoGenes


@pytest.fixture
def book(owner: Account) -> TwoGenes:
    """A visual of two mixed animals, which also has a gene on his X."""
    book = TwoGenes(owner)
    visual = book.visual_of_mixed()
    samphire = LineFactory.create(
        trait__species=book.species,
        trait__name="Samphire",
        trait__shown="single",
        locus=LocusFactory.create(
            species=book.species, chromosome="both", recombination=Fraction(1, 50)
        ),
        code="COR",
    )
    dam = book.founder("F7", "female", "carries", line=samphire)
    book.young("S1", book.clutch("C7", dam, visual), seen=None, sex="male")
    return book


def test_mixed_lines_are_marked_found_and_told_apart(
    page: Page, owner: Account, book: TwoGenes, open_as: OpenAs, axe: Axe
) -> None:
    open_as(owner, "/animals/?mixed=certain")
    expect(page.locator(".found-count")).to_contain_text("1.1.0")
    expect(page.locator(".animals .mixed").first).to_have_text("mixed lines")
    axe()
    page.get_by_label("Mixed lines").select_option("possible")
    settled(page)  # the old list may still be there
    page.locator(".of-code").get_by_role("link", name="V1").click()
    expect(page.get_by_text("possibly mixed lines 71 %")).to_be_visible()
    axe()
    page.get_by_text("The mating that would tell").click()
    row = page.get_by_role("row").filter(has=page.get_by_role("link", name="F1"))
    expect(row).to_contain_text("If all 4 show Saltgrass: two copies of HAR.")
    axe()
    row.get_by_role("link", name="F1").click()
    expect(page.get_by_role("heading", name="F1 × V1")).to_be_visible()
    expect(page.get_by_text("Lines would mix.").first).to_be_visible()
    axe()


def test_a_male_says_on_which_chromosome_a_gene_sits(
    page: Page, owner: Account, book: TwoGenes, open_as: OpenAs, axe: Axe
) -> None:
    open_as(owner, "/animals/?q=S1&go=1")
    part = page.get_by_role("region", name="On its sex chromosomes")
    expect(part).to_contain_text("and of his sons about 1 in")
    axe()
