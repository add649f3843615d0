"""Crosses of look-alike lines, published and by definition, walked through the app.

The register is made, the clutches are logged, and the pair's chances, the animals' numbers and
the page are read. Sources stand beside each check in `fixtures/checks/published.json`.
"""

import pytest
from django.test import Client
from django.urls import reverse

from keeper import models as m
from keeper.domain import inference
from keeper.domain.register.placing import Place, add_line, decide_pair
from tests.keeper.books import Book
from tests.keeper.inference.test_published import published
from tests.keeper.lines.rows import InDoubt

pytestmark = pytest.mark.django_db


def copies(animal: m.Animal, line: m.Line | None) -> tuple[float, float, float]:
    """Chances of two, one and no copies; of one line, or of any."""
    trait = animal.species.traits.get()
    one = m.Standing.objects.get(animal=animal, trait=trait, line=line)
    return one.two, one.one, one.none


@pytest.mark.parametrize("visual", [True, False])
def test_two_lines_crossed_give_visuals_if_one_gene_and_none_if_two(
    owner: m.Account, owner_client: Client, *, visual: bool
) -> None:
    # By definition: visuals of one gene have two copies between them to give, of two genes none.
    book = InDoubt(owner)
    dam, sire = book.visual("F1", "female", book.har), book.visual("M1", "male", book.que)
    clutch = book.clutch("C1", dam, sire)
    young = book.young("K1", clutch, seen=visual)
    page = owner_client.get(reverse("register-lines", args=[book.trait.pk])).content.decode()
    assert f"open <b>{'100 %' if visual else '0 %'}</b>" in page
    # Either way it has one copy of each; only of one gene are they a pair at one locus.
    assert copies(young, book.har) == copies(young, book.que) == (0, 1, 0)
    assert copies(young, None) == ((1, 0, 0) if visual else (0, 1, 0))
    # A decision for what hatched moves no number.
    entry = decide_pair(pair=book.pair, one_gene=visual, by=owner)
    assert not entry.changes.exists()
    assert copies(young, None) == ((1, 0, 0) if visual else (0, 1, 0))


def test_matings_of_three_albino_forms_tell_which_are_one_gene(
    owner: m.Account, owner_client: Client
) -> None:
    # R4.ratsnake: Bechtel & Bechtel 1981, 1985; volume and pages quoted from memory.
    numbers = published("R4.ratsnake")
    verdicts = {
        frozenset(name.split("_vs_")): str(said).startswith("allelic")
        for name, said in numbers.items()
        if "_vs_" in name
    }
    assert sorted(verdicts.values()) == [False, False, True]
    book = Book(owner, sex_determination="ZW")
    lines = {"tyr_neg": book.line}
    for form, code in (("tyr_pos", "POS"), ("xanthic", "XAN")):
        line = m.Line(trait=book.trait, code=code, name=code.title())
        doubts = dict.fromkeys(lines.values(), m.read_chance("1/2"))
        add_line(line=line, place=Place(open_with=doubts), by=owner)
        lines[form] = line
    # Of three pairs at even odds no two may be one without the third.
    chances = [pair.now for pair in inference.line_pairs(book.trait).pairs]
    assert chances == pytest.approx([0.4, 0.4, 0.4])

    young = {}
    for number, (forms, allelic) in enumerate(verdicts.items()):
        first, second = sorted(forms)
        dam = book.founder(f"F{number}", "female", "double", line=lines[first])
        sire = book.founder(f"M{number}", "male", "double", line=lines[second])
        clutch = book.clutch(f"C{number}", dam, sire, **{"visual" if allelic else "normal": 5})
        young[forms] = book.young(f"K{number}", clutch, seen=allelic)
    for forms, allelic in verdicts.items():
        first, second = (lines[form] for form in sorted(forms))
        evidence = inference.pair_evidence(first, second)
        assert evidence.pair.now == float(allelic)
        one, other = sorted((first.pk, second.pk))
        page = owner_client.get(reverse("register-lines-pair", args=[one, other]))
        assert f"one gene <strong>{'100 %' if allelic else '0 %'}</strong>" in page.content.decode()
        assert copies(young[forms], first) == copies(young[forms], second) == (0, 1, 0)
        assert copies(young[forms], None) == ((1, 0, 0) if allelic else (0, 1, 0))

    # Decided as published, two genes first: no animal's number moves.
    for allelic in (False, True):
        for pair in m.OpenPair.objects.live():
            forms = frozenset(f for f, line in lines.items() if line in (pair.one, pair.other))
            if verdicts[forms] == allelic:
                entry = decide_pair(pair=pair, one_gene=allelic, by=owner, reason="as published")
                assert not entry.changes.exists()
    assert not m.OpenPair.objects.live().exists()
    settled = {(p.one, p.other): p.now for p in inference.line_pairs(book.trait).pairs}
    assert sorted(settled.values()) == [0, 0, 1]
    for forms, allelic in verdicts.items():
        one, other = sorted(lines[form].pk for form in forms)
        assert settled[one, other] == float(allelic)
