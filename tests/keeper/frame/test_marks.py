"""The marks as they stand on a page."""

import re

import pytest
from django.template import Context, Template

from keeper.domain.saying import strips
from keeper.domain.saying.strips import LENGTH
from keeper.models import Animal, Line, Standing, Trait, Word

SALTGRASS = Trait(pk=1, name="Saltgrass")
HAR = Line(pk=1, trait=SALTGRASS, code="HAR", name="Harvesk <island>")


def standing(two: float, one: float, none: float, **more: object) -> Standing:
    more.setdefault("word", Word.POSSIBLE)
    return Standing(animal_id=1, trait=SALTGRASS, two=two, one=one, none=none, **more)


def page(source: str, **context: object) -> str:
    return Template("{% load marks %}" + source).render(Context(context))


def test_strip_divides_its_length_by_the_chances() -> None:
    drawn = strips.strip(standing(0.25, 0.5, 0.25))
    assert (drawn.two, drawn.one) == (2 + 114 / 4, 4 + 114 * 0.75)


def test_strip_of_certainty_is_whole_and_of_nothing_empty() -> None:
    assert strips.strip(standing(1, 0, 0)).two == LENGTH
    het = strips.strip(standing(0, 1, 0))
    assert (het.two, het.one) == (0, LENGTH)
    none = strips.strip(standing(0, 0, 1))
    assert (none.two, none.one, none.hatching) == (0, 0, "")


def test_strip_shows_the_least_chance_and_the_least_doubt() -> None:
    assert strips.strip(standing(0, 1e-9, 1)).one == pytest.approx(2)
    assert strips.strip(standing(0, 1, 1e-9)).one == pytest.approx(LENGTH - 2)


def test_strip_hatching_stays_inside_its_part() -> None:
    drawn = strips.strip(standing(0.3, 0.3, 0.4))
    numbers = [float(one) for one in re.findall(r"[\d.]+", drawn.hatching)]
    across, down = numbers[::2], numbers[1::2]
    assert len(across) > 10
    assert drawn.two - 0.05 <= min(across) and max(across) <= drawn.one + 0.05
    assert min(down) >= 0 and max(down) <= strips.HEIGHT


def test_strip_marks_the_customary_figure_only_where_it_differs() -> None:
    assert strips.strip(standing(0, 0.1, 0.9, customary=0.5)).marker == LENGTH / 2
    assert strips.strip(standing(0, 0.5, 0.5, customary=0.501)).marker is None
    assert strips.strip(standing(0, 0.5, 0.5)).marker is None


def test_strip_on_a_page_carries_its_meaning_in_text() -> None:
    shown = page("{% strip it %}", it=standing(0, 0.05, 0.95, customary=2 / 3))
    assert '<span class="said">possible het 5 %</span>' in shown
    assert '<span class="beside">66 % by its parents alone</span>' in shown
    assert re.search(r'<svg viewBox="-0.5 -0.5 121 17" aria-hidden="true">', shown)
    assert 'class="marker" transform="translate(80.0 10.0)"' in shown


def test_strip_in_dispute_has_the_word_and_a_broken_outline() -> None:
    shown = page("{% strip it %}", it=standing(0, 0.5, 0.5, dispute_id=3))
    assert 'class="strip disputed"' in shown
    assert "disputed; before that: possible het 50 %" in shown


def test_strip_in_a_list_leaves_out_what_stands_beside() -> None:
    shown = page("{% strip it compact=True %}", it=standing(0, 0.05, 0.95, customary=2 / 3))
    assert "by its parents" not in shown


@pytest.mark.parametrize(
    ("sex", "shape", "word"),
    [
        ("male", "rect", "male"),
        ("female", "circle", "female"),
        ("unknown", "path", "sex not known"),
    ],
)
def test_sex_is_a_shape_and_a_word(sex: str, shape: str, word: str) -> None:
    shown = page("{% sex it %}", it=Animal(sex=sex))
    assert f"<{shape} " in shown and shown.endswith(f"</svg> {word}</span>")


def test_code_is_an_abbreviation_with_its_name_escaped() -> None:
    assert page("{{ it|code }}", it=HAR) == (
        '<abbr class="line-code" title="Harvesk &lt;island&gt;">HAR</abbr>'
    )
    assert page("{{ it|code }}", it=None) == '<span class="line-unknown">line not known</span>'


def test_percent_is_rounded_down() -> None:
    assert page("{{ it|percent }}", it=2 / 3) == "66 %"
    assert page("{{ it|percent }}", it=0.001) == "under 1 %"


def test_figure_and_words_stand_alone() -> None:
    assert page("{{ it|figure }}: {{ it|words }}", it=standing(0, 0.5, 0.5)) == (
        "50 %: possible het 50 %"
    )


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ("{{ 1|how_many:'slug' }}", "1 slug"),
        ("{{ 0|how_many:'slug' }}", "0 slugs"),
        ("{{ 7|how_many:'egg' }}", "7 eggs"),
        ("{{ 1|how_many:'clutch,clutches' }}", "1 clutch"),
        ("{{ 2|how_many:'clutch,clutches' }}", "2 clutches"),
    ],
)
def test_one_thing_is_counted_in_the_singular(said: str, words: str) -> None:
    assert Template("{% load marks %}" + said).render(Context()) == words
