"""What a sheet claims: one row a gene, in the words of the pages, each with its grounds.

Nothing here computes a chance; what a proof by a single look is worth, and how telling clean young
are, is asked for. A gene with a disputed figure is never a claim (honesty rule 5).
"""

import re
from typing import Any

from django.utils.formats import date_format

from keeper.domain import inference
from keeper.domain.saying import counts, mixed, strips, wording
from keeper.domain.saying.figures import percent
from keeper.domain.saying.typed_chance import as_typed
from keeper.domain.sheets.queries import Evidence
from keeper.models import Laboratory, Shown, Standing, Trait, Word

_PATH = re.compile(r"M([-\d.e]+) ([-\d.e]+)L([-\d.e]+) ([-\d.e]+)")
# Clutches named as proof; more of them are counted.
_NAMED = 2


def claims(known: Evidence) -> list[dict[str, Any]]:
    """Return the rows of what the animal carries, the surest word first."""
    return [_row(known, one) for one in genes_claimed(known)] + _only_seen(known)


def genes_claimed(known: Evidence) -> list[wording.Carried]:
    """Return the genes of which something is claimed: not disputed, and not certainly absent."""
    return [one for one in _genes(known) if not is_disputed(one) and not _absent(one)]


def disputed(known: Evidence) -> list[str]:
    """Return the names of the genes of which nothing is claimed."""
    return [one.trait.name for one in _genes(known) if is_disputed(one)]


def absent(known: Evidence) -> list[str]:
    """Return the names of the genes that the animal certainly does not carry."""
    return [one.name for one in _genes(known) if _absent(one) and not is_disputed(one)]


def shows(known: Evidence) -> list[str]:
    """Return the looks that combinations make, each with its chance if it is not certain.

    A look under dispute is no claim.
    """
    found = []
    for one in known.shows:
        if not one.disputed:
            of = f" ({one.made_of})" if one.made_of else ""
            found.append(f"{one.look}{of}" + ("" if one.is_certain else f", {one.figure}"))
    return found


def what_it_was(known: Evidence, animal: int) -> str:
    """Return what a parent carries, in one line; "nothing recorded" if nothing speaks for any."""
    words = []
    for one in known.carried[animal]:
        if is_disputed(one):
            words.append(f"{one.trait.name} (disputed)")
        elif not _absent(one) and not _is_shadow(one):
            said = [_said(known, one.over_all).words, mixed.mixed_words(one.over_all)]
            words.append(f"{one.name} ({', '.join(filter(None, said))})")
    return "; ".join(words) or "nothing recorded"


def disputed_ids(known: Evidence) -> set[int]:
    """Return the ids of the traits of which nothing is claimed."""
    return {one.trait.pk for one in known.carried[known.animal.pk] if is_disputed(one)}


def is_disputed(one: wording.Carried) -> bool:
    """Whether the figure of the gene, or of one of its lines, rests on conflicting records."""
    return one.over_all.is_disputed or any(part.is_disputed for part in one.by_line)


def _absent(one: wording.Carried) -> bool:
    return one.over_all.word == Word.ABSENT or one.over_all.none == 1


def _is_shadow(one: wording.Carried) -> bool:
    """Whether it is a double form that is not seen: what can be said stands at its base."""
    return one.trait.shown == Shown.EVERY and one.over_all.word != Word.VISUAL


def _genes(known: Evidence) -> list[wording.Carried]:
    return [one for one in known.carried[known.animal.pk] if not _is_shadow(one)]


def _row(known: Evidence, one: wording.Carried) -> dict[str, Any]:
    said = _said(known, one.over_all)
    return {
        "trait_id": one.trait.pk,
        "trait": one.trait.name,
        "lines": [line.code for line in one.lines if line.name],
        "line_names": [line.name for line in one.lines if line.name],
        "line_note": _line_note(one),
        "word": one.over_all.word,
        "words": _if_one_look(known, one.over_all) or said.words,
        "beside": said.beside,
        "grounds": _grounds(known, one.trait, one.over_all),
        "mixed": mixed.sheet_words(one.over_all),
        "strip": _drawn(known, one.over_all),
        "parts": [
            {
                "code": part.line.label,
                "words": _if_one_look(known, part) or _said(known, part).words,
            }
            for part in one.parts
            if part.line is not None
        ],
    }


def _line_note(one: wording.Carried) -> str:
    """What stands where a line would: it is not known, or the trait's only one has no name."""
    if one.lines or not one.has_lines:
        return next((line.label for line in one.lines if not line.name), "")
    return wording.LINE_NOT_KNOWN


def _if_one_look(known: Evidence, standing: Standing) -> str:
    """A proof that rests on a single look, with what it is worth if looks can be misread."""
    if not wording.rests_on_one_look(standing) or standing.is_disputed:
        return ""
    try:
        carries = inference.if_misread(known.animal, standing.trait, standing.line)
    except inference.Unanswerable:
        carries = None
    if carries is None:
        return "shown by 1 hatchling, looked at once"
    one_in = round(1 / inference.misread())
    return f"{percent(carries)}: shown by 1 hatchling, looked at once (1 look in {one_in} errs)"


def _said(known: Evidence, standing: Standing) -> wording.Said:
    statement = known.statements.get((standing.animal_id, standing.trait_id))
    # Beside its figure stands whose it is: of one without parents it is its source's.
    own = standing.animal_id == known.animal.pk
    founder = own and known.animal.is_founder
    telling = _telling(standing) if standing.word == Word.CLEAN else None
    return wording.said(standing, statement, founder=founder, telling=telling, on_paper=True)


def _telling(standing: Standing) -> float | None:
    """How telling the clean young are that are counted; None: there are none, or not known."""
    if not standing.clean_young or standing.is_disputed:
        return None
    return inference.how_telling(standing.animal, standing.trait, standing.line)


def _drawn(known: Evidence, standing: Standing) -> dict[str, Any] | None:
    """The strip of a claim: of a source's bare word none, of a founder none of its source's."""
    if standing.word == Word.STATED and not wording.moved_since(standing):
        return None
    found = drawn(standing)
    return found | {"marker": None} if known.animal.is_founder else found


def drawn(standing: Standing) -> dict[str, Any]:
    """Return a standing's strip as plain numbers."""
    strip = strips.strip(standing)
    lines = [[float(number) for number in found] for found in _PATH.findall(strip.hatching)]
    return {
        "length": strips.LENGTH,
        "height": strips.HEIGHT,
        "two": strip.two,
        "one": strip.one,
        "hatching": lines,
        "marker": strip.marker,
    }


def _only_seen(known: Evidence) -> list[dict[str, Any]]:
    """Traits that were seen and have no standing of their own, such as combinations of genes."""
    told = {one.trait.pk for one in known.carried[known.animal.pk] if not _is_shadow(one)}
    doubted = disputed_ids(known)
    return [
        {
            "trait_id": look.trait_id,
            "trait": look.trait.name,
            "lines": [],
            "line_names": [],
            "line_note": "",
            "word": Word.VISUAL.value,
            "words": Word.VISUAL.label,
            "beside": "",
            "grounds": _seen_on(known, look.trait),
            "mixed": "",
            "strip": None,
            "parts": [],
        }
        for look in known.seen.values()
        if look.seen == "yes"
        and look.trait_id not in told
        and not doubted & {look.trait_id, look.trait.base_id}
    ]


# --- grounds, in a few words ---------------------------------------------------------------------


def _grounds(known: Evidence, trait: Trait, standing: Standing) -> str:
    """The grounds of the word, and every laboratory's result, whatever it found."""
    parts = [_of_the_word(known, trait, standing), _laboratories(known, trait)]
    return " ".join(part for part in parts if part)


def _of_the_word(known: Evidence, trait: Trait, standing: Standing) -> str:
    match standing.word:
        case Word.VISUAL:
            return _seen_on(known, trait)
        case Word.PROVEN:
            return _proof(known, trait) or _from_parents(known, trait)
        case Word.PARENTAGE:
            visual = [
                f"{role} {code} is visual"
                for role, code, one in _parents_with(known, trait)
                if one.over_all.word == Word.VISUAL and not is_disputed(one)
            ]
            return _sentence(visual) or _from_parents(known, trait)
        case Word.STATED:
            return _paper(known, trait)
        case Word.DEDUCED:
            # Where young of its own settle it, what did not show it speaks against nothing.
            parts = [_proof(known, trait), _from_parents(known, trait), _word_given(known, trait)]
            return " ".join(filter(None, parts))
        case Word.TESTED | Word.LABORATORIES:
            # What the laboratories found follows; here whose word they bear out.
            return _word_given(known, trait)
        case _:
            parts = [_from_parents(known, trait), _word_given(known, trait)]
            parts.append(_clean(standing) if standing.word != Word.CLEAN else "")
            return " ".join(part for part in parts if part)


def _laboratories(known: Evidence, trait: Trait) -> str:
    said = [
        f"{one.laboratory} found {one.get_found_display()} of {one.line.label}, "
        f"{date_format(one.on, 'j F Y')} ({_rates(one.laboratory)})"
        for one in known.tests.get(trait.base_id or trait.pk, ())
    ]
    return f"{'; '.join(said)}." if said else ""


def _rates(laboratory: Laboratory) -> str:
    """How often a laboratory errs, as the keeper entered it."""
    misses, mistakes = as_typed(laboratory.misses), as_typed(laboratory.mistakes)
    return f"misses {misses}, finds by mistake {mistakes}"


def _seen_on(known: Evidence, trait: Trait) -> str:
    look = known.seen.get(trait.pk)
    if look is None or look.seen != "yes":
        return _word_given(known, trait)
    return f"Seen on it, {date_format(look.on, 'j F Y')}."


def _proof(known: Evidence, trait: Trait) -> str:
    shown = known.produced.get(trait.pk, {})
    if not shown:
        return ""
    named = [f"{count} in clutch {code}" for code, count in list(shown.items())[:_NAMED]]
    if len(shown) > _NAMED:
        named.append(f"more in {len(shown) - _NAMED} others")
    return f"Young of its own showed it: {', '.join(named)}."


def _parents_with(known: Evidence, trait: Trait) -> list[tuple[str, str, wording.Carried]]:
    return [
        (parent.role, parent.animal.code, one)
        for parent in known.parents
        if parent.animal is not None
        for one in known.carried[parent.animal.pk]
        if one.trait.pk == trait.pk and not _absent(one)
    ]


def _from_parents(known: Evidence, trait: Trait) -> str:
    words = []
    for role, code, one in _parents_with(known, trait):
        said = "disputed" if is_disputed(one) else _said(known, one.over_all).words
        words.append(f"{role} {code}: {said}")
    return _sentence(words)


def _word_given(known: Evidence, trait: Trait) -> str:
    statement = known.statements.get((known.animal.pk, trait.pk))
    if statement is None:
        return ""
    who = statement.source or "a source not named"
    return f"Stated {wording.claim_said(statement)} by {who}."


def _paper(known: Evidence, trait: Trait) -> str:
    statement = known.statements.get((known.animal.pk, trait.pk))
    if statement is None:
        return ""
    paper = statement.paper
    day = (paper.dated if paper else None) or statement.on
    kind = "In its papers" if paper else "By word"
    if statement.signed_id is not None:
        kind = "By its signed papers"
    return f"{kind}, {date_format(day, 'j F Y')}." if day else f"{kind}, not dated."


def _clean(standing: Standing) -> str:
    young = standing.clean_young
    if not young:
        return ""
    counted = f"{counts.how_many(young, 'hatchling')} that could have shown it did not"
    telling = wording.telling_said(_telling(standing), standing.trait.shown)
    return f"{counted}, {telling}." if telling else f"{counted}."


def _sentence(parts: list[str]) -> str:
    text = "; ".join(parts)
    return f"{text[0].upper()}{text[1:]}." if text else ""
