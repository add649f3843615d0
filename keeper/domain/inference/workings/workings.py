"""The exact working of a number where it is short enough for a person, else why there is none.

What an animal is before it is tested follows from its papers or from its parents; then come the
laboratory's results and its own clean young, mate by mate. A working is only shown if it gives the
very number of the standing.
"""

from collections import defaultdict
from dataclasses import dataclass
from fractions import Fraction
from math import prod

import genetics
from keeper.domain.inference.questions.asking import Subproblem
from keeper.domain.inference.reading.founders import unsaid_frequencies
from keeper.domain.inference.reading.statements import StatedRow
from keeper.domain.inference.results import WorkingStep
from keeper.domain.inference.workings.describing import in_words, rows_of
from keeper.domain.inference.workings.origins import NoWorking, Parentage
from keeper.domain.inference.workings.questions import Question, question_of
from keeper.domain.inference.workings.relatives import Relatives
from keeper.domain.saying.figures import percent
from keeper.models import Animal, Chromosome, Claim, Found, Line, Shown, Standing, Trait

_SAME = 1e-9
_ENOUGH, _LEFT = Fraction(99, 100), Fraction(1, 100)
_Steps = tuple[WorkingStep, ...]


@dataclass(frozen=True)
class Result:
    """The steps of a working, or why there are none."""

    steps: _Steps
    refusal: str = ""


def working(
    part: Subproblem,
    book: genetics.Population,
    question: Question,
    animal: Animal,
    trait: Trait,
    line: Line | None,
    stored: Standing | None,
) -> Result:
    """The working of a stored standing; `book` is what of the part bears on the question."""
    refusal = _refused(stored)
    if stored is None or refusal:
        return Result((), refusal)
    try:
        return Result(_Writer(part, book, question, animal, trait, line, stored).steps())
    except NoWorking as why:
        return Result((), str(why) or _more(book))


def _more(book: genetics.Population) -> str:
    """What a short working leaves out."""
    what = "More than its parents, papers, tests and clean young bears on it"
    if book.trust:
        what = "The words on animals that came with one another stand or fall together"
    elif book.same_locus:
        what = "Whether some of its lines are one gene is open, and bears on it"
    elif book.linkage:
        what = "A gene that is linked to it bears on it"
    return f"{what}: see what each record weighs."


def _refused(stored: Standing | None) -> str:
    if stored is None:
        return ""
    if stored.is_disputed:
        return (
            "There is no one working while records behind it contradict each other: see the "
            "figures without each of them."
        )
    if stored.error:
        return "This figure is an estimate, which has no exact working."
    if stored.none == 1:
        return "It cannot carry it: nothing is left to work out."
    if stored.none == 0 and stored.two in (0.0, 1.0):
        return "It carries it for certain: nothing is left to work out."
    return ""


class _Writer:
    """One animal's situation, and the sheet that grows with each part of it."""

    def __init__(
        self,
        part: Subproblem,
        book: genetics.Population,
        question: Question,
        animal: Animal,
        trait: Trait,
        line: Line | None,
        stored: Standing,
    ) -> None:
        self.trait, self.line, self.stored = trait, line, stored
        self.rows, self.inheritance = part.of.rows, part.of.inheritance
        self.animal = self.rows.animals[animal.pk]
        self.kin = Relatives(part, book, question, self.animal)
        self.every_line = self.kin
        if line is not None:
            every = question_of(part, animal, trait, None)
            bears = every.relevant(part.book.population)
            self.every_line = Relatives(part, bears, every, self.animal)
        self.parentage = Parentage(self.kin, self.every_line, trait, stored)
        self.written: list[WorkingStep] = []
        self.whole: genetics.Working | None = None

    def steps(self) -> _Steps:
        """All steps.

        Raises:
            NoWorking: the situation is none of the simple ones, or does not give the number.
        """
        try:
            self._origin()
            if self.stored.none > 0 and not self._open_line():
                self._tests()
                self._young()
        except (genetics.ImpossibleEvidence, genetics.MalformedCase) as fault:
            raise NoWorking from fault
        shown = self.stored.carries if self.stored.none else self.stored.two
        if self.whole is None or abs(float(self.whole.result) - shown) > _SAME:
            raise NoWorking
        return tuple(self.written)

    def _say(self, text: str) -> None:
        self.written.append(WorkingStep(text, "", ""))

    def _write(self, label: str, further: "genetics.Working") -> None:
        """Add what a working says beyond the one that it rests on."""
        before = len(self.whole.steps) if self.whole is not None else 0
        self._say(label)
        for step in further.steps[before:]:
            self.written.append(WorkingStep(step.text, step.plain, step.mathml))
        self.whole = further

    # --- before any test ------------------------------------------------------------------------

    def _origin(self) -> None:
        if self.rows.arisen.get(self.animal.pk):
            raise NoWorking("A gene began with it: nothing before it tells of its number.")
        if not self.rows.parents(self.animal) and self.animal.clutch is None:
            said = self._stated()
            if said is None:
                raise NoWorking(
                    "It rests on what was seen on it or found in it, without any papers."
                )
            open_line = self.line if said.line is None else None
            self._papers(said, self._part_of(open_line) if open_line else Fraction(1))
        elif self.kin.locus is None:
            raise NoWorking("Its lines may sit at several places: see what each record weighs.")
        else:
            for label, told in self.parentage.workings():
                self._write(label, told)

    def _papers(self, said: StatedRow, share: Fraction) -> "genetics.Working":
        if said.signed is not None:
            raise NoWorking(
                "It rests on signed papers of another book: what they rest on can be worked out "
                "from their file."
            )
        stated = {Claim.POSSIBLE: said.chance, Claim.CLEAR: Fraction(0)}.get(
            Claim(said.claim), Fraction(1)
        )
        row = rows_of([("statement", said.pk)])["statement", said.pk]
        whole = genetics.founder_papers(
            stated or Fraction(0), said.reliability, share=share, unsaid=self._unsaid(said)
        )
        self._write(f"By its papers: {in_words(row)}.", whole)
        return whole

    def _unsaid(self, said: StatedRow) -> Fraction:
        """The chance that it carries though its source's word is not true."""
        lines = self.inheritance.lines_of(self.trait)
        common = unsaid_frequencies([one for one in lines if said.line in (None, one.pk)])
        places: dict[int, Fraction] = defaultdict(Fraction)
        for pk, chance in common.items():
            if self.line is None or self.line.pk == pk:
                places[self.inheritance.lines[pk].locus_id] += chance
        return 1 - prod(((1 - one) ** 2 for one in places.values()), start=Fraction(1))

    def _begin_again(self) -> None:
        self.whole, self.written = None, []

    def _open_line(self) -> bool:
        """Papers that leave open which gene it is, and young of a mate that can show one of them.

        Whether the situation is that one, and is worked out with it.
        """
        said = self._stated()
        lines = self.inheritance.lines_of(self.trait)
        apart = len({one.locus_id for one in lines}) > 1
        if (
            said is None
            or said.line is not None
            or not apart
            or self.trait.shown != Shown.RECESSIVE
        ):
            return False
        kin = self.every_line
        mates = kin.clean_young(self.trait.pk)
        if not mates:
            return False
        (mate, count), *others = mates
        places = kin.places_of(mate)
        known = kin.copies(mate, places[0]) if len(places) == 1 else None
        if others or known is None:
            raise NoWorking
        here = [one for one in lines if self.inheritance.loci[one.locus_id].name == places[0]]
        self._begin_again()
        told = genetics.clean_offspring_of_open_line(
            self._papers(said, Fraction(1)),
            sum((self._part_of(one) for one in here), Fraction(0)),
            count,
            genetics.Parent(carrier=known[0], shows=known[1]),
            share=None if self.line is None else self._part_of(self.line),
            shared=self.line is None or self.line.pk in {one.pk for one in here},
        )
        self._write(f"{count} young with {kin.name(mate)}, all of them without {self.trait}.", told)
        return True

    def _stated(self) -> StatedRow | None:
        """What its source says, if it is a founder of which something is said."""
        owner = self.trait.base_id or self.trait.pk
        rows = self.rows.first_words(self.animal.pk)
        return next((row for row in rows if row.trait == owner), None)

    def _part_of(self, line: Line) -> Fraction:
        """How likely a line is meant where papers leave it open."""
        lines = self.inheritance.lines_of(self.trait)
        whole = sum((Fraction(one.share) for one in lines), Fraction(0))
        if not whole:
            return Fraction(1, len(lines))
        return Fraction(self.inheritance.lines[line.pk].share) / whole

    # --- tests and young ------------------------------------------------------------------------

    def _tests(self) -> None:
        tests = self.kin.tests()
        rows = rows_of(("labtest", one.pk) for one in tests)
        for one in tests:
            if one.found == Found.TWO or self.whole is None:
                raise NoWorking
            make = genetics.clean_test if one.found == Found.NONE else genetics.positive_test
            told = make(self.whole, 1 - one.misses, one.mistakes)
            self._write(f"{in_words(rows['labtest', one.pk])}.", told)

    def _young(self) -> None:
        prior = self.whole
        for mate, count in self.kin.clean_young(self.trait.pk):
            if self.kin.locus is None or self.trait.shown != Shown.RECESSIVE:
                raise NoWorking
            assert self.whole is not None
            label = f"{count} young with {self.kin.name(mate)}, all of them without {self.trait}."
            if self.kin.chromosome == Chromosome.ONE:
                self._write(label, genetics.single_copy_offspring(self.whole, count))
                continue
            parent = self.parentage.known(mate)
            self._write(label, genetics.clean_offspring(self.whole, count, parent))
            if 1 in (parent.carrier, parent.shows) and prior is not None:
                self._enough(prior, count, parent)

    def _enough(self, prior: "genetics.Working", count: int, mate: "genetics.Parent") -> None:
        """How far so many young go, by the rule of 99 % and by what is left."""
        told = genetics.shown_by_now(count, mate)
        last = told.steps[-1]
        self.written.append(WorkingStep(last.text, last.plain, last.mathml))
        carrier = mate.carrier == 1
        test = (genetics.against_carrier if carrier else genetics.against_visual)(prior.result)
        needed, clean = test.eggs_to_detect(_ENOUGH), test.eggs_to_exclude(_LEFT)
        assert needed is not None and clean is not None
        short = percent(float(genetics.shown_by_now(needed - 1, mate).result))
        kind = "carrier" if carrier else "visual"
        self._say(
            f"With a {kind} a carrier shows itself among {needed} young with 99 %; among "
            f"{needed - 1} with {short}. For at most 1 % to be left it takes {clean} clean young."
        )
