"""The example collection goes into an empty book, whole, and shows every capability."""

from collections import Counter
from collections.abc import Iterator
from datetime import date
from fractions import Fraction
from typing import TYPE_CHECKING

import pytest
from django.apps import apps
from django.db import transaction

from keeper import models as m
from keeper.domain import explaining, inference
from keeper.domain.example import replaying as example
from keeper.domain.example.drawing import portrait
from keeper.domain.prospects.queries import with_words
from keeper.pages.prospects.page import prospect_page
from tests.factories import AccountFactory
from tests.keeper.example.test_building import events

if TYPE_CHECKING:
    from pytest_django import DjangoDbBlocker


pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def yard(django_db_setup: None, django_db_blocker: "DjangoDbBlocker") -> Iterator[m.Account]:
    """The example, loaded once for this module, which must leave it as it is."""
    with django_db_blocker.unblock(), transaction.atomic():
        owner = AccountFactory.create(name="Mara", role="owner")
        example.load(by=owner)
        yield owner
        transaction.set_rollback(True)


def standing(animal: str, trait: str, line: str | None = None) -> m.Standing:
    return m.Standing.objects.get(
        animal__code=animal, trait__name=trait, line=line_of(trait, line) if line else None
    )


def line_of(trait: str, code: str) -> m.Line:
    return m.Line.objects.get(trait__name=trait, code=code)


def trait_of(name: str) -> m.Trait:
    return m.Trait.objects.get(name=name)


# --- loading -------------------------------------------------------------------------------------


def test_load_makes_one_entry_a_event_on_its_day(yard: m.Account) -> None:
    entries = m.DaybookEntry.objects.order_by("pk")
    assert [str(entry.at.date()) for entry in entries] == [event["on"] for event in events()]
    assert {entry.by for entry in entries} == {yard}
    times = [entry.at for entry in entries]
    assert times == sorted(times)


def test_load_fills_the_book(yard: m.Account) -> None:
    animals = Counter(m.Animal.objects.values_list("species__name", flat=True))
    assert animals == {"Royal python": 150, "Corn snake": 35}
    seasons = Counter(one.laid_on.year for one in m.Clutch.objects.all() if one.laid_on)
    assert seasons == {2021: 9, 2022: 7, 2023: 7, 2024: 6, 2025: 4, 2026: 8}
    assert m.Clutch.objects.filter(hatched_on=None).get().code == "26-08"


def test_every_animal_has_its_picture_of_the_day_that_it_came(yard: m.Account) -> None:
    animals = m.Animal.objects.prefetch_related("photos")
    assert [one.code for one in animals if one.photos.count() != 1] == []
    founder = m.Photo.objects.get(animal__code="F-001")
    assert founder.taken_on == date(2021, 1, 5)
    with founder.image.open() as kept:
        assert kept.read() == portrait("Royal python", ["Saltgrass"], "F-001")


@pytest.mark.parametrize(
    "model", [one for one in apps.get_models() if issubclass(one, m.Record)], ids=str
)
def test_every_record_is_in_order(yard: m.Account, model: type[m.Record]) -> None:
    for record in model.objects.live():
        # The database has held its constraints already.
        record.full_clean(validate_constraints=False)


def test_no_numbers_differ_from_a_whole_recompute(yard: m.Account) -> None:
    assert m.Standing.objects.exists()
    assert inference.differences() == []


# --- what it shows -------------------------------------------------------------------------------


def test_saltgrass_has_compatible_and_incompatible_lines(yard: m.Account) -> None:
    har, pel, dun = (line_of("Saltgrass", code) for code in ("HAR", "PEL", "DUN"))
    assert har.locus == pel.locus
    assert har.locus != dun.locus
    # Both lines in one visual, and carriers of two genes that look the same.
    compound = [standing("22-02-01", "Saltgrass", code).carries for code in ("HAR", "PEL")]
    assert compound == [1, 1]
    both = [standing("22-03-01", "Saltgrass", code).carries for code in ("HAR", "DUN")]
    assert both == [1, 1]


def test_quillwort_lines_are_left_open(yard: m.Account) -> None:
    pair = m.OpenPair.objects.live().get()
    assert (str(pair.one), str(pair.other)) == ("Quillwort TAR", "Quillwort ULV")
    assert pair.prior == Fraction(1, 2)
    said = m.PairWord.objects.order_by("on").values_list("source__name", "one_gene", "weight")
    assert list(said) == [
        ("Corin Askrell", True, Fraction(3, 10)),
        ("Ambrose Tulvar", True, Fraction(1, 5)),
        ("Ysolde Penhark", False, Fraction(1, 2)),
    ]
    (found,) = inference.line_pairs(trait_of("Quillwort")).pairs
    # Even odds, times (1 + w) / (1 - w) for a word of weight w, or divided by it: 13 to 14.
    assert found.before == pytest.approx(13 / 27, rel=1e-9)
    # F-009, bought with F-010, was called visual, and is: any animal would be at 1 in 10 000. So
    # the word on F-010 holds as well, with 19/20 to that. It carries Ulvane with 2/3, or else as
    # any animal of which two copies were not seen. Of one gene, each young of 23-02 is visual in
    # a half.
    fails = 0.05 * 0.01**2 / (0.95 + 0.05 * 0.01**2)
    carrier = ((1 - fails) * 2 / 3 + fails * 2 * 0.01 * 0.99) / (1 - fails * 0.01**2)
    clean = 1 - carrier + carrier / 2**4
    assert found.now == pytest.approx(13 * clean / (13 * clean + 14), rel=1e-9)


def test_harrel_and_pellow_were_open_until_a_cross_told(yard: m.Account) -> None:
    pair = m.OpenPair.objects.withdrawn().get()
    assert (str(pair), pair.withdrawn_reason) == ("Saltgrass HAR and Saltgrass PEL", "decided")
    entry = m.DaybookEntry.objects.get(what__startswith="Decided: ")
    assert (entry.what, entry.reason, entry.at.date()) == (
        "Decided: Saltgrass HAR and Saltgrass PEL are one gene",
        "22-02: a Harvesk het and a Pelnaw visual gave three visuals.",
        date(2022, 4, 30),
    )


def test_marrowglass_is_a_complex_with_a_masking_double_form(yard: m.Account) -> None:
    breakwater = trait_of("Breakwater")
    assert breakwater.base == trait_of("Marrowglass")
    hidden = sorted(trait.name for trait in breakwater.hides.all())
    assert hidden == ["Bright Samphire", "Samphire"]
    assert line_of("Marrowglass", "FER").locus == line_of("Kelpwash", "GAD").locus
    assert str(trait_of("Halftide").showings.get()) == (
        "exactly one copy of Marrowglass FER and exactly one copy of Kelpwash GAD"
    )
    seen = m.Observation.objects.filter(seen=m.Seen.YES)
    assert seen.filter(trait=breakwater).count() == 4


def test_harm_and_lost_eggs_are_stated_with_a_source(yard: m.Account) -> None:
    harmful = m.Trait.objects.exclude(harm="").order_by("name")
    assert [trait.name for trait in harmful] == ["Deep Flintback", "Squallmark"]
    assert all(trait.harm_source for trait in harmful)
    lost = {str(one): one.survival for one in m.Survival.objects.all()}
    assert lost == {
        "Squallmark OLT / Squallmark OLT": 0,
        "Flintback AMB / Flintback AMB": Fraction(1, 2),
    }


def test_sex_linked_genes_cross_over_or_sit_on_the_z(yard: m.Account) -> None:
    samphire, harebell = (m.Locus.objects.get(name=name) for name in ("Samphire", "Harebell"))
    assert (samphire.chromosome, samphire.recombination) == ("both", Fraction(1, 50))
    assert (harebell.chromosome, harebell.species.sex_determination) == ("one", "ZW")
    # Of F-015, whose sons show it, one daughter does.
    young = m.Animal.objects.filter(
        clutch__candidates__sire__code="F-015",
        observations__trait=trait_of("Samphire"),
        observations__seen=m.Seen.YES,
    )
    daughters = [animal.code for animal in young if animal.sex == m.Sex.FEMALE]
    assert daughters == ["23-03-01"]
    assert len(young) > 3


def test_bogmyrtle_and_cottonsedge_are_linked(yard: m.Account) -> None:
    interval = m.Interval.objects.get()
    assert str(interval) == "Bogmyrtle – Cottonsedge"
    assert (interval.female, interval.male) == (Fraction(1, 10), Fraction(1, 5))


def test_mizzle_is_carried_by_one_that_does_not_show_it(yard: m.Account) -> None:
    assert trait_of("Mizzle").penetrance == Fraction(4, 5)
    look = m.Look.objects.get(animal__code="21-07-01")
    assert not look.observations.filter(trait__name="Mizzle").exists()
    assert standing("21-07-01", "Mizzle").carries == 1


def test_one_clutch_has_two_possible_sires(yard: m.Account) -> None:
    counts = Counter(m.CandidateSire.objects.values_list("clutch__code", flat=True))
    assert [code for code, males in counts.items() if males > 1] == ["25-01"]


def test_breedings_prove_one_and_clear_another(yard: m.Account) -> None:
    assert m.Clutch.objects.filter(test_breeding=True).count() == 6
    assert standing("F-014", "Saltgrass").word == m.Word.PROVEN
    moved = m.StandingChange.objects.filter(
        animal__code="F-014", trait__name="Saltgrass", line=None, word=m.Word.PROVEN
    )
    assert moved.get().entry.what == "Hatch of 23-01: 7 hatched, 0 slugs, 0 lost"
    failed = standing("K-05", "Harebell")
    assert (failed.word, failed.clean_young) == (m.Word.CLEAN, 13)
    assert 0 < failed.carries < 0.01


def test_a_test_against_one_line_says_nothing_of_another(yard: m.Account) -> None:
    tested = standing("F-004", "Saltgrass")
    assert (tested.word, tested.clean_young) == (m.Word.CLEAN, 12)
    parts = {line.code: line.share for line in trait_of("Saltgrass").lines.all()}
    assert parts == {"HAR": Fraction(1, 2), "PEL": Fraction(1, 4), "DUN": Fraction(1, 4)}
    # Stated as 2/3 without a line, by one whose word is taken at 4/5. Three quarters of that are
    # Harvesk or Pelnaw, which a Harvesk visual would have shown in a half of the young. Else it is
    # as any animal: 1 in 100 for the three lines together, two of them at one locus; two copies
    # would have been seen on it.
    shown, both, alone = 2**-12, 2 / 300, 1 / 300
    first = {0: (1 - both) ** 2, 1: 2 * both * (1 - both) * shown}
    second = {0: (1 - alone) ** 2, 1: 2 * alone * (1 - alone)}
    # F-007, bought with it and called a het, has one copy of Dunsk: as said 1/4, else as anybody
    # who shows nothing at the other locus. Both words hold or neither.
    holds, other = 4 / 5 * 1 / 4, 1 / 5 * second[1] * (1 - both**2)
    said = holds * 2 / 3
    dun = said / 4 + other * second[1] * (first[0] + first[1])
    left = dun + said * 3 / 4 * shown + other * second[0] * first[1]
    whole = left + holds / 3 + other * second[0] * first[0]
    assert tested.carries == pytest.approx(left / whole, rel=1e-9)
    assert standing("F-004", "Saltgrass", "DUN").carries == pytest.approx(dun / whole, rel=1e-9)
    assert standing("F-004", "Saltgrass", "PEL").carries < 0.01


def test_a_line_is_found_out_by_breeding(yard: m.Account) -> None:
    said = m.Statement.objects.get(animal__code="F-007")
    assert (said.claim, said.line) == (m.Claim.CARRIES, None)
    assert standing("F-007", "Saltgrass", "DUN").carries == 1


def test_sources_say_every_kind_of_thing(yard: m.Account) -> None:
    said = set(m.Statement.objects.values_list("claim", flat=True))
    assert said == {m.Claim.VISUAL, m.Claim.CARRIES, m.Claim.POSSIBLE, m.Claim.CLEAR}
    nameless = m.Statement.objects.filter(line=None).order_by("animal__code")
    assert [one.animal.code for one in nameless] == ["F-004", "F-007", "F-008", "F-024", "F-025"]
    assert m.Contact.objects.exclude(reliability="1").count() == 2


def test_animals_are_in_every_state(yard: m.Account) -> None:
    assert set(m.Animal.objects.values_list("status", flat=True)) == set(m.Status.values)


def test_projects_have_holdbacks_due_and_one_released(yard: m.Account) -> None:
    project = m.Project.objects.get(name="Saltgrass Quillwort")
    goal = [(str(part.line), part.need) for part in project.goal_parts.all()]
    assert goal == [("Saltgrass HAR", "shows"), ("Quillwort TAR", "shows")]
    held = project.members.filter(holdback=True, released_on=None)
    due = [one.animal.code for one in held if one.review_on and one.review_on < date(2026, 11, 1)]
    assert due == ["24-01-01", "24-01-02", "24-02-01"]
    assert [one.animal.code for one in project.members.exclude(released_on=None)] == ["24-01-03"]


def test_a_sheet_is_out_of_date(yard: m.Account) -> None:
    sheet = m.Sheet.objects.get(number=1)
    assert (sheet.animal.code, sheet.issued_at.date()) == ("21-05-03", date(2021, 11, 13))
    said = {row["trait"]: row for row in sheet.content["claims"]}["Saltgrass"]
    assert "33 %" in str(said)
    assert standing("21-05-03", "Saltgrass").carries == pytest.approx(0.5)


def test_an_observation_was_taken_back(yard: m.Account) -> None:
    gone = m.Observation.objects.withdrawn().get()
    assert (str(gone), gone.withdrawn_reason) == (
        "Mizzle seen on 24-04-04",
        "Written on the wrong tub: it was her brother.",
    )


def test_mixed_lines_are_certain_possible_and_left_open_by_a_look(yard: m.Account) -> None:
    assert standing("22-03-01", "Saltgrass").mixed == 1
    # Of two carriers of Harvesk and Dunsk: a normal young has none, one or both of the two genes
    # in 1, 4 and 4 of 9; a visual has the other gene too in 5 of 7.
    assert standing("25-04-05", "Saltgrass").mixed == pytest.approx(4 / 9, rel=1e-9)
    visual = standing("25-04-01", "Saltgrass")
    assert visual.word == m.Word.VISUAL
    assert visual.mixed == pytest.approx(5 / 7, rel=1e-9)
    either = [standing("25-04-01", "Saltgrass", code).carries for code in ("HAR", "DUN")]
    assert either == pytest.approx([6 / 7, 6 / 7], rel=1e-9)


def test_laboratories_settle_and_lower_what_was_possible(yard: m.Account) -> None:
    rates = {one.name: (one.misses, one.mistakes) for one in m.Laboratory.objects.all()}
    ebbmark, rimefall = (
        (Fraction(1, 1000), Fraction(1, 2000)),
        (Fraction(1, 100), Fraction(1, 2000)),
    )
    assert rates == {"Ebbmark Assay": ebbmark, "Rimefall Bench": rimefall}
    # Hets with two chances in three, before.
    found, clear = standing("26-01-01", "Quillwort"), standing("26-01-02", "Saltgrass")
    assert found.word == m.Word.TESTED
    assert found.carries == pytest.approx(2 * 0.999 / (2 * 0.999 + 0.0005), rel=1e-9)
    assert clear.carries == pytest.approx(2 * 0.001 / (2 * 0.001 + 0.9995), rel=1e-9)


def test_two_laboratories_disagree_which_is_a_figure_and_a_surprise(yard: m.Account) -> None:
    # An even chance before: one found it and errs in 1 of 2000, one did not and misses 1 of 1000.
    carrier, none = 0.99 * 0.001, 0.0005 * 0.9995
    between = standing("26-04-01", "Quillwort")
    assert between.carries == pytest.approx(carrier / (carrier + none), rel=1e-9)
    assert between.dispute is None
    last = m.Surprise.objects.get(text__startswith="Ebbmark")
    assert last.chance == pytest.approx((carrier + none) / (0.99 + 0.0005), rel=1e-9)
    assert last.looked_at is None


def test_a_clutch_against_the_odds_was_looked_into(yard: m.Account) -> None:
    seen = m.Surprise.objects.exclude(looked_at=None).get()
    # Half of twelve should be Flintback: none of them is as rare as all of them.
    assert seen.text == "Clutch 23-07: 0 of 12 showed Flintback"
    assert seen.chance == pytest.approx(2 / 2**12, rel=1e-9)


def test_prospects_are_open_let_go_and_bought(yard: m.Account) -> None:
    told = {
        one.name: (one.bought.code if one.bought else "", one.is_withdrawn)
        for one in m.Prospect.objects.all()
    }
    assert told == {
        "Quillwort female of the Tarnsey line": ("F-025", False),
        "Grey male, tub 7": ("", True),
        "Saltgrass male, Dunsk": ("", False),
        "Female, tub 12": ("", False),
    }
    assert m.ProspectWord.objects.get(prospect__name="Female, tub 12").line is None
    assert standing("F-025", "Quillwort", "TAR").word == m.Word.VISUAL


def test_an_open_prospect_would_mix_lines(yard: m.Account) -> None:
    listed = with_words(m.Prospect.objects.filter(name="Saltgrass male, Dunsk"))
    page = prospect_page(listed.get())
    assert [(row.mix.relation.name, str(row.mix.other)) for row in page.mixes] == [
        ("TWO", "Saltgrass HAR"),
        ("TWO", "Saltgrass PEL"),
    ]


def test_an_early_contradiction_was_settled_by_what_nobody_had_said(yard: m.Account) -> None:
    settled = m.Dispute.objects.exclude(closed=None).order_by("pk")
    assert {one.opened.what for one in settled} == {"Hatch of 24-06: 5 hatched, 0 slugs, 1 lost"}
    (closed,) = {one.closed for one in settled}
    assert closed is not None
    assert (closed.what, closed.at.date()) == (
        "Adopted: F-024 carried Saltgrass, and nobody said so",
        date(2024, 9, 7),
    )
    assert closed.reason == (
        "Asked Joss Wendry: a brother of F-024 turned out Saltgrass; he had not said so."
    )
    sire = standing("F-024", "Saltgrass")
    assert (sire.word, sire.carries) == (m.Word.PROVEN, 1)
    # One gene with the Harvesk of the dam: Harvesk or Pelnaw, by their parts 2 to 1.
    assert standing("F-024", "Saltgrass", "PEL").carries == pytest.approx(1 / 3, rel=1e-9)
    assert standing("21-07-01", "Saltgrass").carries == pytest.approx(1 / 2, rel=1e-9)


def test_one_planted_contradiction_stays_open(yard: m.Account) -> None:
    dispute = m.Dispute.objects.get(closed=None)
    assert dispute.opened.what == "Hatch of 26-05: 12 hatched, 0 slugs, 1 lost"
    assert sorted(record["text"] for record in dispute.conflict) == [
        "26-05",
        "K-11: visual Thrift SKE",
        "Thrift seen on 21-08-02",
        "whole look at 26-05-04",
    ]
    disputed = m.Standing.objects.exclude(dispute=None)
    assert {one.trait.name for one in disputed} == {"Thrift"}


def test_what_is_behind_the_open_contradiction_is_listed_and_unlikely(yard: m.Account) -> None:
    (tangle,) = explaining.clusters()
    first, second, *others = explaining.explained(tangle)
    assert (first.text, second.text) == (
        "26-05-04 was misread: the book says that Thrift was not seen on it",
        "26-05-04 is not from clutch 26-05: animals were mixed up",
    )
    # Either makes the rest as likely as the other does: their base rates, 1/200 and 1/300, tell.
    assert first.share / second.share == pytest.approx(3 / 2, rel=1e-9)
    assert first.share + second.share > 0.99
    # What truly happened is on the list, and unlikely.
    assert "22-07-01 sired a part of clutch 26-05 as well" in {one.text for one in others}
