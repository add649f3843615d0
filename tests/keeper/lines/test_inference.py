"""One gene or two: posteriors, what each cross weighs, and which cross would settle it.

Figures are worked out by hand beside each check, from Mendel's law and Bayes' rule alone.
"""

from fractions import Fraction

import pytest

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.writing import writing
from keeper.domain.inference.questions.settling import forecast
from keeper.domain.register.placing import decide_pair
from tests.keeper.books import Book
from tests.keeper.lines.rows import InDoubt

pytestmark = pytest.mark.django_db

HALF = Fraction(1, 2)


@pytest.fixture
def doubt(owner: m.Account) -> InDoubt:
    return InDoubt(owner)


def now(doubt: InDoubt) -> float:
    (pair,) = inference.line_pairs(doubt.trait).pairs
    return pair.now


def test_an_open_pair_without_crosses_stands_at_the_keepers_view_and_the_words(
    doubt: InDoubt,
) -> None:
    (pair,) = inference.line_pairs(doubt.trait).pairs
    assert (pair.open, pair.before, pair.now) == (True, 0.5, 0.5)
    # A word of weight 1/2 multiplies the odds by (1 + 1/2) / (1 - 1/2) = 3.
    doubt.word(one_gene=True, weight="1/2")
    assert now(doubt) == pytest.approx(3 / 4)
    doubt.word(one_gene=False, weight="4/5")
    assert now(doubt) == pytest.approx(3 / (3 + 9))


@pytest.mark.parametrize(("rows", "expected"), [({"normal": 1}, 0.0), ({"visual": 3}, 1.0)])
def test_two_visuals_settle_it_with_their_first_hatchling(
    doubt: InDoubt, rows: dict[str, int], expected: float
) -> None:
    dam, sire = doubt.visual("F1", "female", doubt.har), doubt.visual("M1", "male", doubt.que)
    doubt.clutch("C1", dam, sire, **rows)
    assert now(doubt) == expected
    evidence = inference.pair_evidence(doubt.har, doubt.que)
    (cross,) = evidence.crosses
    assert (cross.showed, cross.looked) == (rows.get("visual", 0), sum(rows.values()))
    assert cross.without == pytest.approx(0.5)


def test_normal_young_of_hets_speak_for_two_genes_by_three_quarters_each(doubt: InDoubt) -> None:
    dam = doubt.founder("F1", "female", "carries", line=doubt.har)
    sire = doubt.founder("M1", "male", "carries", line=doubt.que)
    doubt.clutch("C1", dam, sire, normal=4)
    doubt.clutch("C2", dam, sire, normal=7)
    assert now(doubt) == pytest.approx(0.75**11 / (0.75**11 + 1))
    evidence = inference.pair_evidence(doubt.har, doubt.que)
    second, first = evidence.crosses
    assert (first.looked, second.looked) == (4, 7)
    assert first.without == pytest.approx(0.75**7 / (0.75**7 + 1))
    assert second.without == pytest.approx(0.75**4 / (0.75**4 + 1))


def test_recorded_hatchlings_are_weighed_with_their_clutch(doubt: InDoubt) -> None:
    dam, sire = doubt.visual("F1", "female", doubt.har), doubt.visual("M1", "male", doubt.que)
    clutch = doubt.clutch("C1", dam, sire)
    doubt.young("K1", clutch, seen=True)
    (cross,) = inference.pair_evidence(doubt.har, doubt.que).crosses
    assert (cross.showed, cross.looked) == (1, 1)
    assert cross.without == pytest.approx(0.5)
    assert now(doubt) == 1.0


def test_clutches_in_which_the_lines_cannot_meet_are_no_evidence(doubt: InDoubt) -> None:
    dam = doubt.visual("F1", "female", doubt.har)
    sire = doubt.founder("M1", "male", "carries", line=doubt.har)
    doubt.clutch("C1", dam, sire, visual=3, normal=2)
    evidence = inference.pair_evidence(doubt.har, doubt.que)
    assert (evidence.crosses, evidence.pair.now) == ((), 0.5)


def test_a_settled_pair_lists_its_crosses_and_weighs_none(doubt: InDoubt) -> None:
    dam, sire = doubt.visual("F1", "female", doubt.har), doubt.visual("M1", "male", doubt.que)
    doubt.clutch("C1", dam, sire, visual=5)
    decide_pair(pair=doubt.pair, one_gene=True, by=doubt.by)
    evidence = inference.pair_evidence(*doubt.reread())
    assert (evidence.pair.open, evidence.pair.now) == (False, 1.0)
    (cross,) = evidence.crosses
    assert (cross.showed, cross.looked, cross.without) == (5, 5, None)


def test_lines_are_in_doubt_by_way_of_a_third(doubt: InDoubt) -> None:
    # HAR–QUE and QUE–DUN at even odds each: HAR and DUN are one gene if both are.
    dun = doubt.another("DUN")
    doubt.opened(doubt.que, dun)
    found = {(p.one, p.other): p for p in inference.line_pairs(doubt.trait).pairs}
    third = found[doubt.har.pk, dun.pk]
    assert third.open
    assert third.now == pytest.approx(1 / 4)


def test_conflicting_records_are_told_and_the_newest_left_out(doubt: InDoubt) -> None:
    dam, sire = doubt.visual("F1", "female", doubt.har), doubt.visual("M1", "male", doubt.har)
    doubt.clutch("C1", dam, sire, normal=1)
    evidence = inference.pair_evidence(doubt.har, doubt.que)
    assert evidence.pair.now == 0.5
    assert any("C1" in one for one in evidence.conflict)


# ---- the best cross -------------------------------------------------------------------------

SIX = [0.0] * 6 + [1.0]


def test_two_visuals_need_one_hatchling() -> None:
    found = forecast([(True, 0.5, 1.0), (False, 0.5, 0.0)], 0.95, SIX)
    assert (found.hatchlings, found.normals_for_two, found.visuals_for_one) == (1, 1, 1)
    assert (found.visual_proves, found.normal_proves, found.ever) == (True, True, 1.0)


@pytest.mark.parametrize(("p", "needed"), [(Fraction(1, 4), 11), (HALF, 5)])
def test_hets_need_as_many_normals_as_bring_the_odds_to_nineteen(p: Fraction, needed: int) -> None:
    # (1 - p)^n <= 1/19, exactly: (3/4)^10 and (1/2)^4 are still above it.
    assert (1 - p) ** needed <= Fraction(1, 19) < (1 - p) ** (needed - 1)
    found = forecast([(True, 0.5, float(p)), (False, 0.5, 0.0)], 0.95, SIX)
    assert (found.hatchlings, found.normals_for_two, found.visuals_for_one) == (needed, needed, 1)
    assert (found.visual_proves, found.normal_proves) == (True, False)
    # Six hatchlings settle it only by a visual among them, except where six are enough.
    visual = 0.5 * (1 - (1 - float(p)) ** 6)
    assert found.in_a_clutch == pytest.approx(1.0 if needed <= 6 else visual)


def test_normals_never_settle_what_parents_may_not_carry() -> None:
    # Two visual-line carriers at 2/3 each: only 4 in 9 couples can show anything.
    one = [(True, 0.5 * 4 / 9, 0.25), (True, 0.5 * 5 / 9, 0.0)]
    found = forecast([*one, (False, 0.5, 0.0)], 0.95, SIX)
    assert (found.hatchlings, found.normals_for_two, found.visuals_for_one) == (None, None, 1)
    assert found.ever == pytest.approx(0.5 * 4 / 9)


def test_a_hidden_carrier_makes_one_visual_too_few() -> None:
    # The sire may carry the dam's line unseen, 1 in 8: a visual then comes of two genes too.
    kinds = [(True, 0.5, 1.0), (False, 0.5 * 7 / 8, 0.0), (False, 0.5 / 8, 0.5)]
    found = forecast(kinds, 0.95, SIX)
    # 1 / (1 + 1/16) is below 95 %, 1 / (1 + 1/32) above.
    assert (found.visuals_for_one, found.hatchlings, found.visual_proves) == (2, 2, False)
    assert (found.normals_for_two, found.normal_proves) == (1, True)


def test_the_best_cross_is_ranked_by_what_one_clutch_settles(doubt: InDoubt) -> None:
    visual = doubt.visual("F1", "female", doubt.har)
    het = doubt.founder("F2", "female", "carries", line=doubt.har)
    maybe = doubt.founder("F3", "female", "possible", "2/3", line=doubt.har)
    same = doubt.visual("F4", "female", doubt.que)
    sire = doubt.visual("M1", "male", doubt.que)
    females = [maybe, het, visual, same]
    found = inference.best_crosses(doubt.har, doubt.que, females=females, males=[sire])
    assert [one.dam for one in found.crosses] == [visual.pk, het.pk, maybe.pk]
    assert (found.level, found.possible) == (0.95, 3)
    assert [one.forecast.hatchlings for one in found.crosses] == [1, 5, None]
    # Six eggs of which four in five hatch: some hatchling in all but 1/5^6.
    assert found.crosses[0].forecast.in_a_clutch == pytest.approx(1 - 0.2**6)
    # The 2/3 carrier: a visual settles it; no number of normal ones does.
    assert found.crosses[2].forecast.ever == pytest.approx(0.5 * 2 / 3)
    assert found.crosses[2].forecast.normals_for_two is None


def test_beyond_ninety_five_percent_the_best_cross_is_for_ninety_nine(doubt: InDoubt) -> None:
    doubt.weigh("97/100")
    dam = doubt.founder("F1", "female", "carries", line=doubt.har)
    sire = doubt.visual("M1", "male", doubt.que)
    found = inference.best_crosses(doubt.har, doubt.que, females=[dam], males=[sire])
    (cross,) = found.crosses
    assert (found.level, cross.forecast.visuals_for_one) == (0.99, 1)
    # 97/3 · 2^-n <= 1/99 takes 12.
    assert Fraction(97, 3) / 2**12 <= Fraction(1, 99) < Fraction(97, 3) / 2**11
    assert cross.forecast.normals_for_two == 12
    doubt.weigh("999/1000")
    found = inference.best_crosses(doubt.har, doubt.que, females=[dam], males=[sire])
    assert (found.level, found.crosses) == (None, ())


def test_what_was_bred_already_counts_in_the_best_cross(owner: m.Account, doubt: InDoubt) -> None:
    dam = doubt.founder("F1", "female", "carries", line=doubt.har)
    sire = doubt.founder("M1", "male", "carries", line=doubt.que)
    doubt.clutch("C1", dam, sire, normal=6)
    found = inference.best_crosses(doubt.har, doubt.que, females=[dam], males=[sire])
    # Eleven normals in all.
    assert found.crosses[0].forecast.normals_for_two == 5


def test_lines_of_a_book_without_doubt_are_compared_without_solving(owner: m.Account) -> None:
    book = Book(owner)
    with writing(by=owner, what="A second line") as entry:
        entry.keep(m.Line(trait=book.trait, locus=book.line.locus, code="PEL", name="Pelnaw"))
    (pair,) = inference.line_pairs(book.trait).pairs
    assert (pair.open, pair.now) == (False, 1.0)


def test_a_forecast_comes_true_in_the_book(doubt: InDoubt) -> None:
    # What another clutch told of the lines, and of its own dam, counts in it.
    doubt.weigh("3/5")
    dam = doubt.founder("F1", "female", "carries", line=doubt.har)
    sire = doubt.founder("M1", "male", "carries", line=doubt.que)
    other = doubt.founder("F2", "female", "possible", "9/10", line=doubt.har)
    doubt.clutch("C1", other, sire, normal=3)
    found = inference.best_crosses(doubt.har, doubt.que, females=[dam], males=[sire])
    needed = found.crosses[0].forecast.normals_for_two
    assert needed is not None
    doubt.clutch("C2", dam, sire, normal=needed - 1)
    assert now(doubt) > 0.05
    doubt.clutch("C3", dam, sire, normal=1)
    assert now(doubt) <= 0.05


def test_only_the_newest_crosses_of_a_large_book_are_weighed_and_any_that_is_asked_for(
    doubt: InDoubt, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("keeper.domain.inference.questions.compatibility._MOST_WEIGHED", 1)
    dam = doubt.founder("F1", "female", "carries", line=doubt.har)
    sire = doubt.founder("M1", "male", "carries", line=doubt.que)
    first = doubt.clutch("C1", dam, sire, normal=2)
    second = doubt.clutch("C2", dam, sire, normal=3)

    def weighed(clutch: int | None) -> dict[int, bool]:
        found = inference.pair_evidence(doubt.har, doubt.que, first=clutch)
        return {cross.clutch: cross.without is not None for cross in found.crosses}

    assert weighed(None) == {first.pk: False, second.pk: True}
    assert weighed(first.pk) == {first.pk: True, second.pk: False}


def test_eyes_that_err_are_counted_in_a_forecast(doubt: InDoubt) -> None:
    # Half of those that have it do not show it: visuals of one gene are seen as visual 1 in 2.
    doubt.trait.penetrance = "1/2"
    doubt.trait.save()
    dam, sire = doubt.visual("F1", "female", doubt.har), doubt.visual("M1", "male", doubt.que)
    found = inference.best_crosses(*doubt.reread(), females=[dam], males=[sire])
    assert found.crosses[0].forecast.normals_for_two == 5
    assert not found.crosses[0].forecast.normal_proves
