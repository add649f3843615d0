"""The gene that a pedigree shows: which there are to choose from, what is said of each animal."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from django.db.models import Count, Q

from keeper.domain.saying.figures import carrier_percent
from keeper.domain.saying.strips import Strip, strip
from keeper.domain.saying.wording import Carried, carried, said
from keeper.models import Line, Standing, Trait, Word

# Under a symbol there is room for a word; the whole sentence stands in its title and in the list.
_SHORT = {
    Word.VISUAL: "visual",
    Word.PROVEN: "proven",
    Word.PARENTAGE: "by parents",
    Word.TESTED: "laboratory",
    Word.LABORATORIES: "labs differ",
    Word.DEDUCED: "must carry",
    Word.STATED: "stated",
    Word.POSSIBLE: "possible",
    Word.CLEAN: "left, clean",
    Word.ABSENT: "not carried",
}


@dataclass(frozen=True)
class Gene:
    """A trait, or one line of it."""

    trait: Trait
    line: Line | None = None

    @property
    def key(self) -> str:
        """What stands for it in an address: `trait-3`, `line-5`."""
        return f"line-{self.line.pk}" if self.line else f"trait-{self.trait.pk}"

    def __str__(self) -> str:
        return str(self.line) if self.line else self.trait.name


@dataclass(frozen=True)
class Told:
    """What is said of one animal and the gene.

    Attributes:
        strip: the strip to draw.
        short: a figure and a word, each a line of its own.
        codes: the lines by code, where they are known.
        words: the whole of it, the trait named.
        shows: whether it was seen to show it.
        certain: whether it has at least one copy for certain.
    """

    strip: Strip
    short: tuple[str, ...]
    codes: str
    words: str
    shows: bool
    certain: bool


def genes_of(animals: Collection[int], focus: Collection[int]) -> list[Gene]:
    """Return what any of some animals may carry; first what those in focus and most others do."""
    here = Q(pk__in=[])
    if focus:
        here = Q(animal__in=list(focus))
    rows = (
        Standing.objects.filter(animal__in=list(animals), none__lt=1)
        .order_by()
        .values_list("trait", "line")
        .annotate(own=Count("pk", filter=here), all=Count("pk"))
    )
    counted = {(trait, line): (-own, -all_) for trait, line, own, all_ in rows}
    traits = Trait.objects.in_bulk([trait for trait, _ in counted])
    lines = Line.objects.select_related("trait").in_bulk([one for _, one in counted if one])
    found: list[Gene] = []
    over_all = [(rank, traits[trait]) for (trait, line), rank in counted.items() if line is None]
    for _, trait in sorted(over_all, key=lambda one: (one[0], one[1].name)):
        found.append(Gene(trait))
        own = sorted((one for one in lines.values() if one.trait_id == trait.pk), key=str)
        found += [Gene(trait, line) for line in own if len(own) > 1]
    return found


def told_of(gene: Gene, animals: Iterable[int]) -> dict[int, Told]:
    """Return what is said of some animals and a gene; whoever nothing speaks for is not in it."""
    rows = Standing.objects.filter(animal__in=list(animals), trait=gene.trait)
    rows = rows.select_related("trait", "line", "dispute")
    found: dict[int, Told] = {}
    for one in carried(rows):
        standing = one.over_all
        if gene.line is not None:
            of_line = [row for row in one.by_line if row.line_id == gene.line.pk]
            if not of_line:
                continue
            standing = of_line[0]
        found[one.animal_id] = _told(gene, one, standing)
    return found


def _told(gene: Gene, one: Carried, standing: Standing) -> Told:
    known = one.lines if gene.line is None else (gene.line,)
    name = one.name if gene.line is None else str(gene)
    seen = standing.word == Word.VISUAL
    return Told(
        strip=strip(standing),
        short=_short(standing),
        codes=" / ".join(line.label for line in known),
        words=f"{name}: {said(standing).words}",
        shows=seen and not standing.is_disputed,
        certain=standing.none == 0 and not standing.is_disputed,
    )


def _short(standing: Standing) -> tuple[str, ...]:
    figure = carrier_percent(standing)
    if standing.error:
        figure = f"≈ {figure}"
    if standing.is_disputed:
        return figure, "disputed"
    if standing.none == 1:
        return "0 %", _SHORT[Word.ABSENT]
    if standing.word == Word.VISUAL and standing.none == 0:
        return (_SHORT[Word.VISUAL],)
    return figure, _SHORT[Word(standing.word)]
