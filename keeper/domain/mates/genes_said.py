"""What an animal has of some looks, in the words of a page or of a letter."""

from collections.abc import Collection, Iterable, Mapping

from keeper.domain.saying import wording
from keeper.domain.saying.shorthand import Gene, Word, claim_said
from keeper.models import Shown, Statement, Trait
from keeper.models import Word as Standing

# Trait → what is said of it: "Saltgrass HAR (visual)".
Having = Mapping[int, str]


def of_animal(
    carried: Iterable[wording.Carried],
    statements: Mapping[tuple[int, int], Statement],
    *,
    on_paper: bool = False,
) -> dict[int, str]:
    """Return by trait what an animal of the book has.

    A buyer is told of nothing that is disputed, and not by whom something was said.
    """
    found = {}
    for one in carried:
        standing = one.over_all
        shadow = one.trait.shown == Shown.EVERY and standing.word != Standing.VISUAL
        if standing.word == Standing.ABSENT or standing.none >= 1 or shadow:
            continue
        if on_paper and is_disputed(one):
            continue
        statement = statements.get((one.animal_id, one.trait.pk))
        words = wording.said(standing, statement, on_paper=on_paper).words
        if on_paper and standing.word == Standing.STATED and statement is not None:
            words = f"said to be {wording.claim_said(statement)}, not tested here"
        elif on_paper and wording.rests_on_one_look(standing):
            # A look can have been misread: a buyer is told of no proof by a single one.
            words = "shown by 1 hatchling, looked at once"
        found[one.trait.pk] = f"{one.name} ({words})"
    return found


def is_disputed(one: wording.Carried) -> bool:
    """Whether the figure of a look, or of one of its lines, rests on conflicting records."""
    return one.over_all.is_disputed or any(row.is_disputed for row in one.by_line)


def of_words(words: Iterable[Word], genes: Iterable[Gene]) -> dict[int, str]:
    """Return by trait what is said of an animal that is not in the book."""
    names = {gene.trait: gene for gene in genes if not gene.parts}
    found = {}
    for word in words:
        gene = names[word.trait]
        line = wording.LINE_NOT_KNOWN if word.line is None else gene.codes[word.line]
        joined = f"{gene.name}, {line}" if word.line is None else f"{gene.name} {line}"
        found[word.trait] = f"{joined} ({claim_said(word)})"
    return found


def genes_of(looks: Iterable[Trait], combined: Mapping[int, Collection[int]]) -> list[int]:
    """Return of which traits an animal has copies for some looks.

    Of a double form that is its base; `combined` are those of what combinations show.
    """
    found: dict[int, None] = {}
    for look in looks:
        found |= dict.fromkeys([look.base_id or look.pk, *combined.get(look.pk, ())])
    return list(found)


def together(having: Having, traits: Collection[int]) -> list[str]:
    """Return what an animal has of some looks."""
    return [having[trait] for trait in traits if trait in having]
