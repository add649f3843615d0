"""Reading an animal in the words of the trade: see `keeper.domain.saying.shorthand`."""

import re
from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import cached_property
from typing import NamedTuple

from keeper.domain.saying.shorthand import NO_NAME, Gene, Read, Unread, Word
from keeper.domain.saying.shorthand_words import (
    COUNTS,
    ENDS,
    HET,
    JOINS,
    MAYBE,
    MOST_NEAR,
    NORMAL,
    NOT,
    NUMBER,
    SEVERAL,
    SEVERAL_HET,
    SEX_WORDS,
    SEXES,
    TWO,
    VISUAL,
    Token,
    chance_of,
    likeness,
    nearest,
    tokens_of,
)
from keeper.models import Claim, Sex
from keeper.models.chance import is_unclear


def read(text: str, genes: Sequence[Gene]) -> Read:
    """Read what somebody typed of one animal, by the names of a register."""
    return _Reader(text, genes).read()


class _Held(NamedTuple):
    """A word that holds for the genes after it: `left` says for how many, if that is fixed."""

    claim: Claim
    chance: Fraction | None
    said: str
    start: int
    left: int | None = None
    used: bool = False


class _Problem(Exception):
    """A part that cannot be read, with the number of its tokens."""

    def __init__(self, count: int, why: str) -> None:
        super().__init__(why)
        self.count, self.why = count, why


class _Reader:
    """Reads one text from its beginning to its end."""

    def __init__(self, text: str, genes: Sequence[Gene]) -> None:
        self.text, self.genes = text, genes
        self.tokens = tokens_of(text)
        self.at = 0
        self.sex: Sex | None = None
        self.normal = False
        self.held: _Held | None = None
        self.words: list[Word] = []
        self.unread: list[Unread] = []

    @cached_property
    def names(self) -> list[tuple[tuple[str, ...], Gene]]:
        """Names as tokens, the longest first."""
        found = [(tuple(one.key for one in tokens_of(gene.name)), gene) for gene in self.genes]
        return sorted((one for one in found if one[0]), key=lambda one: -len(one[0]))

    def read(self) -> Read:
        while self.at < len(self.tokens):
            try:
                known = self._sex() or self._gene() or self._word() or self._sign()
            except _Problem as problem:
                self._refuse(problem.count, problem.why)
                continue
            if not known:
                self._refuse(self._unknown(), NO_NAME)
                self._pass_line(self.unread[-1].near)
        self._end_word()
        unread = sorted(self.unread, key=lambda one: one.start)
        return Read(self.text, self.sex, tuple(self.words), self.normal, tuple(unread))

    # Each of these reads what stands next and goes on behind it, or returns False.

    def _sex(self) -> bool:
        token = self.tokens[self.at]
        if self._gene_at(self.at) is not None:
            return False
        sex = SEXES.get(token.text.replace(",", "."), SEX_WORDS.get(token.key))
        if sex is None:
            if COUNTS.fullmatch(token.text) and not self._is_chance():
                raise _Problem(1, "one animal is 1.0, 0.1 or 0.0.1")
            return False
        if self._key(self.at + 1) == "%" or (self.sex is not None and self._is_chance()):
            return False
        if self.sex not in {None, sex}:
            raise _Problem(1, "another sex is said before it")
        self.sex = sex
        self.at += 1
        return True

    def _gene(self) -> bool:
        found = self._gene_at(self.at)
        if found is None:
            return False
        gene, count = found
        first = self.tokens[self.at]
        self.at += count
        line, last = self._line(gene)
        self._say(gene, line, first, last or self.tokens[self.at - 1])
        return True

    def _gene_at(self, at: int) -> tuple[Gene, int] | None:
        for keys, gene in self.names:
            if tuple(one.key for one in self.tokens[at : at + len(keys)]) == keys:
                return gene, len(keys)
        return None

    def _line(self, gene: Gene) -> tuple[int | None, Token | None]:
        """Read the line that follows a name: its code, bare or in brackets, or its name there."""
        lines = {name.casefold(): pk for name, pk in gene.lines.items()}
        rest = self.tokens[self.at :]
        if rest and rest[0].key in lines and self._gene_at(self.at) is None:
            self.at += 1
            return lines[rest[0].key], rest[0]
        if not rest or rest[0].text != "(":
            return None, None
        closing = next((n for n, one in enumerate(rest) if one.text == ")"), None)
        if closing is None:
            self._refuse(1, "this bracket is not closed")
            return None, None
        inside = " ".join(self.text[rest[1].start : rest[closing - 1].end].split())
        if closing < 2 or inside.casefold() not in lines:
            codes = tuple(gene.codes.values())
            known = f"{gene.name} has the lines {', '.join(codes)}" if codes else "it has no lines"
            near = tuple(f"({code})" for code in nearest(inside, codes)) or (
                tuple(f"({code})" for code in codes[:MOST_NEAR])
            )
            self._refuse(closing + 1, f"no line of {gene.name}: {known}", near, gene.trait)
            return None, None
        self.at += closing + 1
        return lines[inside.casefold()], rest[closing]

    def _say(self, gene: Gene, line: int | None, first: Token, last: Token) -> None:
        claim, chance, note, start = self._claimed(first)
        try:
            said = list(self._meant(gene, line, claim))
            for trait, _, _ in said:
                if any(word.trait == trait for word in self.words):
                    raise _Problem(0, f"{gene.name} is said twice: one word a look")
        except _Problem as problem:
            self._note(start, last.end, problem.why)
            return
        text = self.text[start : last.end]
        if gene.parts:
            note = f"{note}; part of {gene.name}" if note else f"part of {gene.name}"
        self.words += [Word(*one[:2], one[2], chance, text, note) for one in said]

    def _meant(
        self, gene: Gene, line: int | None, claim: Claim
    ) -> Iterator[tuple[int, int | None, Claim]]:
        """What is said of which look: a double form's base, the parts of a named look."""
        if gene.parts:
            if claim != Claim.VISUAL:
                why = f"{gene.name} is a look of several genes: say that of each of them"
                raise _Problem(0, why)
            by_trait = {one.trait: one for one in self.genes if not one.parts}
            for trait, of_line in gene.parts:
                yield from self._meant(by_trait[trait], of_line, claim)
        elif not gene.codes:
            raise _Problem(0, f"{gene.name} has no lines of its own: name the looks that make it")
        elif gene.double_of is None:
            yield gene.trait, line, claim
        elif claim in {Claim.VISUAL, Claim.DOUBLE}:
            # Two copies of its base make a double form; it has no lines of its own.
            yield gene.double_of, line, Claim.DOUBLE
        else:
            raise _Problem(0, f"{gene.name} takes two copies: nothing can be het for it")

    def _claimed(self, first: Token) -> tuple[Claim, Fraction | None, str, int]:
        """What the word before says, and what was taken for granted."""
        held = self.held
        if held is None:
            return Claim.VISUAL, None, "taken as visual: no word stands before it", first.start
        if held.left is not None:
            self.held = held._replace(left=held.left - 1, used=True) if held.left > 1 else None
            return held.claim, held.chance, "", first.start if held.used else held.start
        self.held = held._replace(used=True)
        if held.used:
            return held.claim, held.chance, f"taken as {held.said} like the one before", first.start
        return held.claim, held.chance, "", held.start

    def _word(self) -> bool:
        """Read a word that holds for the genes after it."""
        start = self.tokens[self.at]
        found = self._het() or self._several() or self._plain()
        if found is None:
            return False
        claim, chance, said, count, left = found
        self._end_word()
        self.at += count
        self.held = _Held(claim, chance, said, start.start, left)
        return True

    def _het(self) -> tuple[Claim, Fraction | None, str, int, int | None] | None:
        """A het, its chance before it or behind: "het", "66 % poss het", "possible het 66 %"."""
        figure, at = self._figure(self.at)
        maybe = self._key(at) in MAYBE
        at += maybe
        if self._key(at) not in HET:
            return None
        at += 1
        if self._key(at) == "for":
            at += 1
        if figure is None and maybe:
            figure, at = self._figure(at)
        count = at - self.at
        if figure is None and maybe:
            gene = self._gene_at(at)
            why = "say how likely: 66 % poss het, 50 % poss het"
            raise _Problem(count + (gene[1] if gene else 0), why)
        if figure is not None and is_unclear(figure):
            raise _Problem(count, f"write {figure} with a percent sign, or as percent")
        chance = Fraction(1) if figure is None else chance_of(figure)
        if not 0 < chance <= 1:
            raise _Problem(count, "a chance is above 0 and at most 100 %")
        said = " ".join(self.text[self.tokens[self.at].start : self.tokens[at - 1].end].split())
        if chance == 1:
            return Claim.CARRIES, None, said, count, None
        return Claim.POSSIBLE, chance, said, count, None

    def _figure(self, at: int) -> tuple[str | None, int]:
        """Read a chance, with its sign if it has one; return it and where it ends."""
        if not NUMBER.fullmatch(self._key(at)):
            return None, at
        sign = "%" if self._key(at + 1) == "%" else ""
        return self.tokens[at].text + sign, at + 1 + len(sign)

    def _several(self) -> tuple[Claim, Fraction | None, str, int, int | None] | None:
        """A het for several genes: "DH", "double het"."""
        key = self._key(self.at)
        if key in SEVERAL:
            return Claim.CARRIES, None, self.tokens[self.at].text, 1, SEVERAL[key]
        if key in SEVERAL_HET and self._key(self.at + 1) in HET:
            many = 3 if self._key(self.at + 2) == "for" else 2
            return Claim.CARRIES, None, f"{key} het", many, SEVERAL_HET[key]
        return None

    def _plain(self) -> tuple[Claim, Fraction | None, str, int, int | None] | None:
        key, then = self._key(self.at), self._key(self.at + 1)
        if key in VISUAL:
            return Claim.VISUAL, None, "visual", 1, None
        if key in TWO:
            return Claim.DOUBLE, None, key, 1, None
        if (key, then) == ("two", "copies"):
            return (
                Claim.DOUBLE,
                None,
                "two copies",
                3 if self._key(self.at + 2) == "of" else 2,
                None,
            )
        if key in NOT:
            return Claim.CLEAR, None, key, 2 if then == "het" else 1, None
        return None

    def _sign(self) -> bool:
        key = self._key(self.at)
        if key in ENDS:
            self._end_word(keep_several=True)
        elif key in NORMAL:
            self.normal = True
        elif key not in JOINS:
            return False
        self.at += 1
        return True

    # --- what could not be read ---------------------------------------------------------------

    def _end_word(self, *, keep_several: bool = False) -> None:
        """End a word that holds; one that found too few genes is handed back."""
        held, self.held = self.held, None
        if held is None:
            return
        if held.left is not None and keep_several and self.at < len(self.tokens):
            self.held = held
            return
        if held.left is not None:
            self._note(*self._place(held), f"{held.said} lacks {_genes(held.left)}")
        elif not held.used:
            self._note(*self._place(held), f"nothing follows that {held.said} could be said of")

    def _place(self, held: _Held) -> tuple[int, int]:
        return held.start, held.start + len(held.said)

    def _unknown(self) -> int:
        """How many tokens to hand back together: those that look most like a name, else one."""
        run = 1
        while self.at + run < len(self.tokens) and not self._is_known(self.at + run):
            run += 1
        return max(range(1, run + 1), key=self._likeness)

    def _likeness(self, count: int) -> float:
        return likeness(self._text(count), [gene.name for gene in self.genes])

    def _text(self, count: int) -> str:
        return self.text[self.tokens[self.at].start : self.tokens[self.at + count - 1].end]

    def _pass_line(self, near: Sequence[str]) -> None:
        """Go past the line of a name that was handed back: it is read once that is mended."""
        rest = [one.key for one in self.tokens[self.at :]]
        lines = {key.casefold() for gene in self.genes if gene.name in near for key in gene.lines}
        if rest and rest[0] in lines:
            self.at += 1
        elif rest[:1] == ["("] and ")" in rest:
            self.at += rest.index(")") + 1

    def _near_here(self, count: int) -> tuple[str, ...]:
        return nearest(self._text(count), [gene.name for gene in self.genes])

    def _is_known(self, at: int) -> bool:
        if self._gene_at(at) is not None:
            return True
        key = self._key(at)
        words = ({"("}, ENDS, JOINS, SEVERAL, SEVERAL_HET, VISUAL, TWO, NOT, NORMAL, MAYBE)
        return (
            any(key in among for among in words)
            or key in {*HET, *SEX_WORDS}
            or (bool(re.match(r"\d", key)))
        )

    def _refuse(
        self,
        count: int,
        why: str,
        offers: Sequence[str] | None = None,
        gene: int | None = None,
    ) -> None:
        """Hand back so many tokens; a word before them was meant for them."""
        first, last = self.tokens[self.at], self.tokens[self.at + count - 1]
        names = self._near_here(count) if offers is None else tuple(offers)
        self.at += count
        if self.held is not None and offers is None:
            left = self.held.left
            self.held = self.held._replace(used=True, left=None if left is None else left - 1)
            if left == 1:
                self.held = None
        self._note(first.start, last.end, why, names, gene)

    def _note(
        self, start: int, end: int, why: str, near: tuple[str, ...] = (), gene: int | None = None
    ) -> None:
        self.unread.append(Unread(self.text[start:end], start, end, why, near, gene))

    def _key(self, at: int) -> str:
        return self.tokens[at].key if at < len(self.tokens) else ""

    def _is_chance(self) -> bool:
        return self._key(self.at + 1) in {"%", *HET, *MAYBE}


def _genes(count: int) -> str:
    return "a gene" if count == 1 else f"{count} genes"
