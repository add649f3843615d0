"""The parts of a trait's lines among animals sold as it, line not known."""

from fractions import Fraction

import pytest
from django.core.exceptions import ValidationError
from django.test import Client

from keeper import models as m
from keeper.domain.book.undoing import undo
from keeper.domain.register.placing import Place, add_line
from keeper.domain.register.shares import keep_shares, shares_of
from tests.factories import LineFactory


@pytest.fixture
def lines(db: None) -> tuple[m.Line, m.Line]:
    one = LineFactory.create(code="HAR", name="Harvesk", trait__name="Saltgrass")
    other = LineFactory.create(
        code="PEL", name="Pelnaw", trait=one.trait, locus__species=one.trait.species
    )
    return one, other


def stored() -> dict[str, Fraction]:
    return {line.code: Fraction(str(line.share)) for line in m.Line.objects.all()}


def test_lines_of_which_nothing_was_said_have_equal_parts(lines: tuple[m.Line, m.Line]) -> None:
    assert set(shares_of(lines).values()) == {Fraction(1, 2)}
    for line in lines:
        line.share = Fraction(0)
    assert set(shares_of(lines).values()) == {Fraction(1, 2)}


def test_all_parts_are_set_in_one_entry_and_shown(
    owner_client: Client, owner: m.Account, lines: tuple[m.Line, m.Line]
) -> None:
    one, other = lines
    address = f"/register/traits/{one.trait_id}/"
    page = owner_client.get(f"{address}parts/").content.decode()
    assert page.count('value="50 %"') == 2
    sent = {f"line-{one.pk}": "70 %", f"line-{other.pk}": "3/10", "reason": "as sold at fairs"}
    answer = owner_client.post(f"{address}parts/", sent)
    assert answer.status_code == 302
    assert stored() == {"HAR": Fraction(7, 10), "PEL": Fraction(3, 10)}
    entry = m.DaybookEntry.objects.get()
    assert (entry.what, entry.reason) == (
        "Set the parts of the lines of Saltgrass",
        "as sold at fairs",
    )
    page = " ".join(owner_client.get(address).content.decode().split())
    assert "HAR</abbr> 70 %, " in page
    assert "PEL</abbr> 30 %" in page
    undo(entry=entry, by=owner)
    assert stored() == {"HAR": Fraction(1), "PEL": Fraction(1)}


def test_parts_that_do_not_make_the_whole_are_refused_and_kept_on_the_page(
    owner_client: Client, owner: m.Account, lines: tuple[m.Line, m.Line]
) -> None:
    one, other = lines
    sent = {f"line-{one.pk}": "70 %", f"line-{other.pk}": "20 %", "reason": ""}
    answer = owner_client.post(f"/register/traits/{one.trait_id}/parts/", sent)
    page = answer.content.decode()
    assert "Together they make 90 %; make them 100 %." in page
    assert 'value="20 %"' in page
    with pytest.raises(ValidationError) as caught:
        keep_shares(trait=one.trait, shares={one: Fraction(3, 4), other: Fraction(3, 4)}, by=owner)
    assert caught.value.messages == ["Together they make 150 %; make them 100 %."]
    with pytest.raises(ValidationError) as caught:
        keep_shares(trait=one.trait, shares={one: Fraction(1)}, by=owner)
    assert caught.value.messages == [
        "The lines of Saltgrass have changed meanwhile. Look at them again."
    ]
    assert stored() == {"HAR": Fraction(1), "PEL": Fraction(1)}


def test_a_line_that_comes_later_has_the_part_of_an_average_one(
    owner: m.Account, lines: tuple[m.Line, m.Line]
) -> None:
    one, other = lines
    shares = {one: Fraction(7, 10), other: Fraction(3, 10)}
    keep_shares(trait=one.trait, shares=shares, by=owner)
    line = m.Line(trait=one.trait, code="DUN", name="Dunsk")
    add_line(line=line, place=Place(), by=owner)
    counted = shares_of(m.Line.objects.order_by("code"))
    assert {str(each.code): part for each, part in counted.items()} == {
        "DUN": Fraction(1, 3),
        "HAR": Fraction(7, 15),
        "PEL": Fraction(1, 5),
    }


def test_one_line_alone_has_no_parts_to_set(owner_client: Client, owner: m.Account) -> None:
    line = LineFactory.create()
    address = f"/register/traits/{line.trait_id}/"
    assert owner_client.get(f"{address}parts/").headers["Location"] == address
    assert "parts/" not in owner_client.get(address).content.decode()
