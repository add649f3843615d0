"""The marks of the book: the strip of certainty, sexes, line codes, percents."""

from functools import lru_cache

from django import template
from django.conf import settings
from django.template.defaultfilters import date as date_format
from django.template.loader import get_template
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe

from keeper.domain.saying import counts, figures, strips, wording
from keeper.domain.saying import mixed as mixing
from keeper.domain.saying.shows import said_to_show
from keeper.models import (
    Animal,
    DaybookEntry,
    Line,
    Sex,
    ShowsChange,
    Standing,
    StandingChange,
    Statement,
)

register = template.Library()

_SHAPES = {
    Sex.MALE: mark_safe('<rect x="2.5" y="2.5" width="11" height="11"/>'),
    Sex.FEMALE: mark_safe('<circle cx="8" cy="8" r="6"/>'),
    Sex.UNKNOWN: mark_safe('<path d="M8 1.5 14.5 8 8 14.5 1.5 8z"/>'),
}
# Two strands that run into each other.
_STRANDS = mark_safe('<path d="M1 1.5C8 1.5 12 8.5 19 8.5M1 8.5C8 8.5 12 1.5 19 1.5"/>')
_SEXES = {Sex.MALE: "male", Sex.FEMALE: "female", Sex.UNKNOWN: "sex not known"}


@register.simple_tag
def strip(
    standing: Standing,
    statement: Statement | None = None,
    compact: bool = False,
    founder: bool = False,
) -> SafeString:
    """Draw a standing: strip, word and figure, and beside them the customary figure."""
    said = wording.said(standing, statement, founder=founder)
    draw = _drawn if settings.DEBUG else _known_drawing
    return draw(strips.strip(standing), said, compact)


def _drawn(strip: strips.Strip, said: wording.Said, compact: bool) -> SafeString:
    size = {"length": strips.LENGTH, "height": strips.HEIGHT}
    drawing = {"strip": strip, "said": said, "compact": compact, **size}
    return SafeString(get_template("components/strip.html").render(drawing))


# A list draws the same few again and again, and a drawing is made of nothing but these three.
_known_drawing = lru_cache(maxsize=1024)(_drawn)


@register.filter
def figure(standing: Standing) -> str:
    """The chance of carrying, alone: "66 %"."""
    return figures.carrier_percent(standing)


@register.filter
def words(standing: Standing) -> str:
    """The standing in words, its figure included: "possible het 66 %"."""
    return wording.said(standing).words


@register.filter
def together(words: str) -> str:
    """Words that no line breaks between: "Rack 2 · 2"."""
    return words.replace(" ", "\N{NO-BREAK SPACE}")


@register.filter
def percent(chance: float) -> str:
    """A chance that is claimed, in whole percents, rounded down."""
    return figures.percent(float(chance))


@register.filter
def percent_up(chance: float) -> str:
    """A harm, a loss or an error in whole percents, rounded up."""
    return figures.percent_up(float(chance))


@register.filter
def how_many(count: int, nouns: str) -> str:
    """A count with its noun, and the plural if it is no plain s: "egg", "clutch,clutches"."""
    one, _, many = nouns.partition(",")
    return counts.how_many(count, one, many)


@register.filter
def of_day(entry: DaybookEntry) -> SafeString | str:
    """The day that an entry tells of, where it was typed on another."""
    day = entry.late_of
    if day is None:
        return ""
    return format_html(' <span class="soft nowrap">of {}</span>', date_format(day, "j M Y"))


@register.filter
def code(line: Line | None) -> SafeString:
    """A line's code in small capitals; without a line "line not known", or "line not named"."""
    if line is None:
        return format_html('<span class="line-unknown">{}</span>', wording.LINE_NOT_KNOWN)
    if not line.name:
        return format_html('<span class="line-unknown">{}</span>', line.label)
    return format_html('<abbr class="line-code" title="{}">{}</abbr>', line.name, line.code)


@register.filter
def named(carried: wording.Carried) -> SafeString:
    """A trait with the codes of its lines, or "line not known"."""
    if carried.lines:
        codes = format_html_join(" / ", "{}", ((code(line),) for line in carried.lines))
        return format_html("{} {}", carried.trait.name, codes)
    if carried.name == carried.trait.name:
        return format_html("{}", carried.name)
    return format_html("{} {}", carried.trait.name, code(None))


@register.simple_tag
def sex(animal: Animal) -> SafeString:
    """The pedigree standard's shape of an animal's sex, with the word."""
    kind = Sex(animal.sex)
    return format_html(
        '<span class="sex {}"><svg viewBox="0 0 16 16" aria-hidden="true">{}</svg> {}</span>',
        kind.value,
        _SHAPES[kind],
        _SEXES[kind],
    )


@register.simple_tag
def mixed(standing: Standing | None) -> SafeString | str:
    """The mark of mixed lines with its words; nothing where the standing is not mixed."""
    words = mixing.mixed_words(standing)
    return mixture(words) if words else ""


@register.filter
def mixed_words(standing: Standing) -> str:
    """The words of that mark alone, for paper."""
    return mixing.mixed_words(standing)


@register.simple_tag
def mixture(words: str) -> SafeString:
    """The same mark with words of its own."""
    return format_html(
        '<span class="mixed"><svg viewBox="0 0 20 10" aria-hidden="true">{}</svg> {}</span>',
        _STRANDS,
        words,
    )


@register.filter
def before(change: StandingChange) -> str:
    """What was said before a change."""
    return wording.before(change)


@register.filter
def after(change: StandingChange) -> str:
    """What is said after a change."""
    return wording.after(change)


@register.filter
def shown_before(change: ShowsChange) -> str:
    """What was said before a change of what an animal shows."""
    return said_to_show(change.chance_before, disputed=change.disputed_before)


@register.filter
def shown_after(change: ShowsChange) -> str:
    """What is said since a change of what an animal shows."""
    return said_to_show(change.chance, disputed=change.disputed)


@register.filter
def claim(statement: Statement) -> str:
    """What a source said, short."""
    return wording.claim_said(statement)
