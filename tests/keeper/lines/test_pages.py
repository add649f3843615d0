"""Lines compared, as pages: the table, two lines, words, decisions, what is queried and kept."""

from collections.abc import Callable
from datetime import date
from fractions import Fraction

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.undoing import undo
from keeper.domain.book.writing import Refused
from keeper.domain.lines.queries import at_hand
from keeper.domain.lines.writes import keep_word, reopen_pair, restore_word, withdraw_word
from keeper.domain.register.placing import decide_pair
from tests.factories import ContactFactory, LineFactory
from tests.keeper.counting import queries_of
from tests.keeper.lines.rows import InDoubt
from tests.keeper.sent import seen_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def doubt(owner: m.Account) -> InDoubt:
    return InDoubt(owner)


def text_of(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def table(doubt: InDoubt) -> str:
    return reverse("register-lines", args=[doubt.trait.pk])


def two(doubt: InDoubt, name: str = "register-lines-pair") -> str:
    return reverse(name, args=[doubt.har.pk, doubt.que.pk])


def bred(doubt: InDoubt) -> None:
    """Two hets with eleven normal young, and a visual with one normal hatchling."""
    dam = doubt.founder("F1", "female", "carries", line=doubt.har)
    sire = doubt.founder("M1", "male", "carries", line=doubt.que)
    doubt.clutch("C1", dam, sire, normal=11)


# ---- the table ------------------------------------------------------------------------------


def test_the_table_says_one_gene_two_genes_or_open(owner_client: Client, doubt: InDoubt) -> None:
    LineFactory.create(trait=doubt.trait, code="DUN", locus__species=doubt.species)
    page = text_of(owner_client, table(doubt))
    assert "1 pair open." in page
    assert "HAR and QUE: </span>open <b>50 %</b>" in page
    assert page.count("two genes</a>") == 4
    bred(doubt)
    page = text_of(owner_client, table(doubt))
    # 0.75^11 / (0.75^11 + 1) is 4.05 %.
    assert "HAR and QUE: </span>open <b>4 %</b>" in page
    assert page.count("ripe to decide") == 2
    decide_pair(pair=doubt.pair, one_gene=True, by=doubt.by)
    page = text_of(owner_client, table(doubt))
    assert "Every pair is settled." in page
    assert page.count("one gene</a>") == 2


def test_a_look_with_one_line_has_nothing_to_compare(owner_client: Client) -> None:
    line = LineFactory.create()
    page = text_of(owner_client, reverse("register-lines", args=[line.trait_id]))
    assert "One line only" in page


def test_the_table_is_linked_from_the_trait_and_the_register(
    owner_client: Client, doubt: InDoubt
) -> None:
    link = f'href="{table(doubt)}"'
    assert link in text_of(owner_client, reverse("register-trait", args=[doubt.trait.pk]))
    assert link in text_of(owner_client, reverse("register"))


def test_more_lines_cost_no_more_queries(owner_client: Client, doubt: InDoubt) -> None:
    one = queries_of(lambda: owner_client.get(table(doubt)))
    for code in ("DUN", "WES"):
        doubt.opened(doubt.que, doubt.another(code))
    assert queries_of(lambda: owner_client.get(table(doubt))) == one


# ---- two lines ------------------------------------------------------------------------------


def test_the_page_of_two_lines_tells_how_the_figure_came_about(
    owner_client: Client, doubt: InDoubt
) -> None:
    doubt.word(one_gene=True, weight="1/2")
    bred(doubt)
    page = text_of(owner_client, two(doubt))
    # Odds 1 × 3 × 0.75^11: 11.2 %; without the clutch 75 %.
    assert "one gene <strong>11 %</strong> likely" in page
    assert "you held, before any cross</dt><dd>50 %" in page
    assert "with what sources say</dt><dd>75 %" in page
    assert "now, with all that hatched</dt><dd>11 %" in page
    assert "<b>0</b> of 11" in page
    assert "for two genes" in page
    assert "it multiplies the odds of one gene by 3" in page


def test_a_cross_that_leaves_one_answer_says_so(owner_client: Client, doubt: InDoubt) -> None:
    dam, sire = doubt.visual("F1", "female", doubt.har), doubt.visual("M1", "male", doubt.que)
    doubt.clutch("C1", dam, sire, visual=2)
    page = text_of(owner_client, two(doubt))
    assert "one gene <strong>100 %</strong> likely" in page
    assert "rules out two genes" in page
    assert "What hatched leaves nothing else. It stays open until you decide." in page
    assert "no cross is worth its eggs" in page


def test_the_best_cross_leads_on(owner_client: Client, doubt: InDoubt) -> None:
    dam = doubt.founder("F1", "female", "carries", line=doubt.har)
    maybe = doubt.founder("F2", "female", "possible", "2/3", line=doubt.har)
    sire = doubt.founder("M1", "male", "carries", line=doubt.que)
    page = text_of(owner_client, two(doubt))
    assert '<b>11</b><span class="what"> hatchlings needed' in page
    assert (
        "Any visual makes them one gene. 11 normal ones and no visual make two genes 95 % sure."
        in page
    )
    assert "<b>no number</b>" in page
    assert "No number of normal ones settles it" in page
    assert f"?dam={dam.pk}&amp;sire={sire.pk}" in page
    assert f"?dam={maybe.pk}&amp;sire={sire.pk}" in page


def test_animals_that_are_gone_or_too_young_are_no_cross(doubt: InDoubt) -> None:
    sold = doubt.visual("F1", "female", doubt.har)
    young = doubt.visual("F2", "female", doubt.har)
    grown = doubt.visual("F3", "female", doubt.har)
    year = doubt.visual("M1", "male", doubt.que)
    m.Animal.objects.filter(pk=sold.pk).update(status="sold")
    m.Animal.objects.filter(pk=young.pk).update(hatched_on=date(2024, 6, 1))
    # Females breed from 36 months, males from 18; a year alone is taken as early as it may be.
    m.Animal.objects.filter(pk=grown.pk).update(hatched_on=date(2022, 6, 1))
    m.Animal.objects.filter(pk=year.pk).update(hatched_year=2024)
    found = at_hand(doubt.har, doubt.que, today=date(2025, 8, 1))
    assert ([a.code for a in found.females], [a.code for a in found.males], found.young) == (
        ["F3"],
        ["M1"],
        1,
    )


def test_a_settled_pair_says_what_it_means_and_can_be_opened_again(
    owner_client: Client, doubt: InDoubt
) -> None:
    decide_pair(pair=doubt.pair, one_gene=True, by=doubt.by, reason="four visuals")
    page = text_of(owner_client, two(doubt))
    assert "One gene: they share the locus" in page
    assert "four visuals" in page
    assert two(doubt, "register-lines-open") in page
    answer = owner_client.post(
        two(doubt, "register-lines-open"), {"prior": "1/3", "reason": "a normal one hatched"}
    )
    assert answer.status_code == 302
    pair = m.OpenPair.objects.live().get()
    assert (str(pair.prior), pair.other.locus_id != pair.one.locus_id) == ("1/3", True)
    page = text_of(owner_client, two(doubt))
    assert "a normal one hatched" in page
    assert "you held, before any cross</dt><dd>1/3" in page


def test_pairs_of_nothing_are_not_found(owner_client: Client, doubt: InDoubt) -> None:
    other = LineFactory.create(trait__species=doubt.species)
    for pks in ([doubt.har.pk, other.pk], [doubt.har.pk] * 2, [doubt.har.pk, 9999]):
        assert owner_client.get(reverse("register-lines-pair", args=pks)).status_code == 404
    turned = owner_client.get(reverse("register-lines-pair", args=[doubt.que.pk, doubt.har.pk]))
    assert turned.url == two(doubt)  # type: ignore[attr-defined]  # a redirect


def test_more_crosses_and_words_cost_no_more_queries(owner_client: Client, doubt: InDoubt) -> None:
    dam = doubt.founder("F1", "female", "carries", line=doubt.har)
    sire = doubt.founder("M1", "male", "carries", line=doubt.que)

    def more(number: int) -> None:
        doubt.clutch(f"C{number}", dam, sire, normal=1)
        doubt.word(one_gene=True, weight="1/10")

    more(1)
    one = queries_of(lambda: owner_client.get(two(doubt)))
    more(2)
    more(3)
    assert queries_of(lambda: owner_client.get(two(doubt))) == one


def test_what_cannot_be_worked_out_leaves_words_and_decisions(
    owner_client: Client, doubt: InDoubt, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(trait: m.Trait) -> None:
        raise inference.Unanswerable("Too many pairs are open.")

    monkeypatch.setattr("keeper.domain.inference.questions.compatibility.whole", refuse)
    doubt.word(one_gene=True, weight="1/2")
    page = text_of(owner_client, table(doubt))
    assert "Too many pairs are open." in page
    assert "HAR and QUE: </span>open</a>" in page
    page = text_of(owner_client, two(doubt))
    assert "Too many pairs are open." in page
    assert "source not named" in page
    assert reverse("register-pair", args=[doubt.pair.pk]) in page


def test_records_that_cannot_all_be_true_are_named(owner_client: Client, doubt: InDoubt) -> None:
    dam, sire = doubt.visual("F1", "female", doubt.har), doubt.visual("M1", "male", doubt.har)
    doubt.clutch("C1", dam, sire, normal=1)
    for address in (table(doubt), two(doubt)):
        page = text_of(owner_client, address)
        assert "<strong>Disputed.</strong>" in page
        assert "C1" in page


# ---- words ----------------------------------------------------------------------------------


def test_a_word_that_moves_numbers_is_shown_first_then_kept_and_undone(
    owner_client: Client, doubt: InDoubt
) -> None:
    dam = doubt.visual("F1", "female", doubt.har)
    sire = doubt.visual("M1", "male", doubt.que)
    doubt.young("K1", doubt.clutch("C1", dam, sire), seen=None)
    ansel = ContactFactory.create(name="Ansel of Pelnaw")
    typed = {"one_gene": "two", "source": ansel.pk, "weight": "50 %", "on": "2026-03-01"}
    address = two(doubt, "register-lines-word-new")
    page = owner_client.post(address, typed).content.decode()
    assert "Not saved yet." in page
    assert "K1" in page
    assert not m.PairWord.objects.exists()
    answer = owner_client.post(address, {**typed, "seen": seen_in(page)})
    word = m.PairWord.objects.get()
    assert (word.one, word.other, word.one_gene, str(word.weight)) == (
        doubt.har,
        doubt.que,
        False,
        "1/2",
    )
    page = text_of(owner_client, answer.url)  # type: ignore[attr-defined]  # a redirect
    assert "Noted: Ansel of Pelnaw says: Saltgrass HAR and Saltgrass QUE are two genes." in page
    assert "one gene <strong>25 %</strong> likely" in page
    entry = m.DaybookEntry.objects.first()
    assert entry is not None
    undo(entry=entry, by=doubt.by)
    assert "one gene <strong>50 %</strong> likely" in text_of(owner_client, two(doubt))


def test_a_word_is_changed_withdrawn_and_restored(owner_client: Client, doubt: InDoubt) -> None:
    word = doubt.word(one_gene=True, weight="1/2")
    address = reverse("register-lines-word", args=[word.pk])
    assert 'value="50 %"' in text_of(owner_client, address)
    owner_client.post(address, {"one_gene": "one", "weight": "80 %", "reason": "shown a clutch"})
    assert "one gene <strong>90 %</strong> likely" in text_of(owner_client, two(doubt))
    owner_client.post(
        reverse("register-lines-word-withdraw", args=[word.pk]), {"reason": "another look"}
    )
    page = text_of(owner_client, two(doubt))
    assert "one gene <strong>50 %</strong> likely" in page
    assert ": another look" in page
    owner_client.post(reverse("register-lines-word-restore", args=[word.pk]))
    assert "one gene <strong>90 %</strong> likely" in text_of(owner_client, two(doubt))


def test_nothing_typed_is_lost_on_an_error(owner_client: Client, doubt: InDoubt) -> None:
    typed = {
        "one_gene": "one",
        "weight": "often",
        "says": "All six were bright.",
        "on": "2999-01-01",
    }
    page = owner_client.post(two(doubt, "register-lines-word-new"), typed).content.decode()
    assert "“often” is no chance." in page
    assert "That day is still to come. Enter today or an earlier day." in page
    assert 'value="often"' in page
    assert "All six were bright." in page


def test_words_on_withdrawn_lines_are_refused(doubt: InDoubt) -> None:
    word = doubt.word(one_gene=True, weight="0")
    withdraw_word(word=word, by=doubt.by, reason="a slip")
    doubt.que.withdrawn_at = timezone.now()
    doubt.que.save()
    another = m.PairWord(
        one=word.one, other=doubt.que, source=word.source, one_gene=True, weight="1/2"
    )
    acts: list[Callable[[], m.DaybookEntry]] = [
        lambda: restore_word(word=word, by=doubt.by),
        lambda: keep_word(word=another, by=doubt.by),
    ]
    for act in acts:
        with pytest.raises(Refused) as caught:
            act()
        assert str(caught.value).endswith(
            "would name the line Saltgrass QUE, which is withdrawn. Restore that first."
        )


# ---- decisions ------------------------------------------------------------------------------


def test_opening_again_keeps_other_doubts_and_undo_closes_it(doubt: InDoubt) -> None:
    dun = doubt.another("DUN")
    doubt.opened(doubt.har, dun)
    entry = reopen_pair(
        one=dun, other=doubt.que, prior=Fraction(1, 4), by=doubt.by, reason="a doubt"
    )
    live = m.OpenPair.objects.live()
    assert {(p.one.code, p.other.code, str(p.prior)) for p in live} == {
        ("HAR", "QUE", "1/2"),
        ("HAR", "DUN", "1/2"),
        ("QUE", "DUN", "1/4"),
    }
    assert entry.what == "Opened again whether Saltgrass QUE and Saltgrass DUN are one gene"
    undo(entry=entry, by=doubt.by)
    assert live.all().count() == 2


def test_opening_what_is_open_is_refused(doubt: InDoubt) -> None:
    with pytest.raises(Refused) as caught:
        reopen_pair(one=doubt.har, other=doubt.que, prior=Fraction(1, 2), by=doubt.by)
    assert str(caught.value) == (
        "Saltgrass HAR and Saltgrass QUE are open already. Decide them on their page."
    )


def test_one_of_three_lines_of_a_gene_cannot_be_opened_alone(
    owner_client: Client, doubt: InDoubt
) -> None:
    decide_pair(pair=doubt.pair, one_gene=True, by=doubt.by)
    LineFactory.create(trait=doubt.trait, code="WES", locus=doubt.har.locus)
    page = owner_client.post(
        two(doubt, "register-lines-open"), {"prior": "1/2", "reason": "a doubt"}
    ).content.decode()
    assert "shares its locus with other lines; decide such a pair." in page
    assert 'value="a doubt"' in page


def test_a_decision_shows_what_it_moves_and_comes_back_to_the_two_lines(
    owner_client: Client, doubt: InDoubt
) -> None:
    dam = doubt.visual("F1", "female", doubt.har)
    sire = doubt.visual("M1", "male", doubt.que)
    doubt.young("K1", doubt.clutch("C1", dam, sire), seen=None)
    address = reverse("register-pair", args=[doubt.pair.pk]) + "?from=lines"
    typed = {"answer": "one", "reason": "told by a breeder of both"}
    page = owner_client.post(address, typed).content.decode()
    assert "Not saved yet." in page
    assert m.OpenPair.objects.live().exists()
    answer = owner_client.post(address, {**typed, "seen": seen_in(page)})
    assert answer.url.startswith(two(doubt))  # type: ignore[attr-defined]  # a redirect
    page = text_of(owner_client, answer.url)  # type: ignore[attr-defined]
    assert "told by a breeder of both" in page
    assert "One gene: they share the locus" in page
