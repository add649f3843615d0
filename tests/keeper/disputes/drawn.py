"""Books of several seasons whose mistakes are drawn at the base rates that explanations go by.

The genes are drawn by Mendel's rules in a world of their own, and a keeper writes down what he
takes for true. Whatever goes wrong does so as often as the page says, and as the page means it: so
of the explanations that it gives 70 %, seven in ten should be what happened.
"""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, timedelta
from random import Random

from keeper import models as m
from keeper.domain.book.writing import Writing, writing
from keeper.domain.explaining import COMMON, Kind
from keeper.domain.explaining.changes import Explanation

# Trait → its lines, each at a locus of its own unless two are one gene; copies that show it.
_LINES = {
    "Saltgrass": ("HAR",),
    "Quillwort": ("PEL", "DUN"),
    "Mossback": ("OSK",),
    "Gale": ("VEY",),
}
_SHOWN = {"Saltgrass": 2, "Quillwort": 2, "Mossback": 2, "Gale": 1}
_SECOND_SHARE = 1 / 5  # of the eggs, as the explanation has it

Genes = dict[str, tuple[str, str]]


def _often(kind: Kind) -> float:
    return float(COMMON[kind].chance)


@dataclass(eq=False)
class Beast:
    """An animal as it truly is.

    Attributes:
        said: trait → what its source says: a claim and a line; of `wrong` ones it has none.
        unsaid: traits that it carries and nobody declared.
    """

    code: str
    sex: str
    genes: Genes
    said: dict[str, str] = field(default_factory=dict)
    wrong: set[str] = field(default_factory=set)
    unsaid: set[str] = field(default_factory=set)
    row: m.Animal | None = None

    @property
    def pk(self) -> int:
        """The id of its row; 0 while it has none, as a stranger."""
        return self.row.pk if self.row is not None else 0


@dataclass(eq=False)
class Brood:
    """A clutch: who its parents were, and for whom they were taken."""

    code: str
    laid: date
    dam: Beast
    sires: tuple[Beast, ...]
    told_dam: Beast
    told_sire: Beast
    young: list[Beast] = field(default_factory=list)
    kept: list[Beast] = field(default_factory=list)


class DrawnBook:
    """One drawn world and its book.

    Attributes:
        true: the explanations that are true: by kind and rows, as their keys begin.
        undeclared: founder's id → the traits that it carried and nobody said.
    """

    def __init__(self, by: m.Account, seed: int) -> None:
        self.by, self.draw = by, Random(f"drawn-{seed}")
        self.true: set[str] = set()
        self.mixed: set[Beast] = set()
        self.undeclared: dict[int, set[str]] = defaultdict(set)
        self.one_gene = self._happens(Kind.ONE_GENE)
        self.founders = [
            self._founder(f"{sex[0].upper()}{n}", sex)
            for sex in ("female", "male") for n in range(1, 7)
        ]  # fmt: skip
        self.broods: list[Brood] = []
        for season in range(self.draw.randint(3, 6)):
            self._season(2018 + season)
        self._mix_up()
        self._write()

    def carries(self, pk: int, trait: str) -> bool:
        """Whether an animal truly carries a line of a trait."""
        beasts = [*self.founders, *(one for brood in self.broods for one in brood.kept)]
        genes = next(one.genes for one in beasts if one.pk == pk)
        return any(allele in _LINES[trait] for copies in genes.values() for allele in copies)

    def tells(self, parts: tuple[Explanation, ...]) -> bool:
        """Whether all that an explanation says happened."""
        return all(self._happened(one) for one in parts)

    def _happened(self, one: Explanation) -> bool:
        key = one.key.partition(".")[0]
        if one.kind != Kind.UNDECLARED:
            return key in self.true
        named = {str(trait) for trait in one.traits.values()}
        return bool(named & self.undeclared.get(int(key.rpartition("-")[2]), set()))

    # --- what truly happened ----------------------------------------------------------------

    def _happens(self, kind: Kind) -> bool:
        return self.draw.random() < _often(kind)

    def _at(self, line: str) -> str:
        return "PEL" if line == "DUN" and self.one_gene else line

    def _founder(self, code: str, sex: str, known: float = 0.25) -> Beast:
        one = Beast(
            code, sex, {self._at(line): ("+", "+") for of in _LINES.values() for line in of}
        )
        for trait, lines in _LINES.items():
            line = self.draw.choice(lines)
            if self.draw.random() < known:
                two = self.draw.random() < 0.4
                one.said[trait] = f"double {line}" if two else f"carries {line}"
                if self._happens(Kind.WORD):
                    one.wrong.add(trait)
                else:
                    one.genes[self._at(line)] = (line, line if two else "+")
            elif self._happens(Kind.UNDECLARED):
                one.genes[self._at(line)] = (line, "+")
                one.unsaid.add(trait)
        return one

    def _stranger(self) -> Beast:
        """A parent that is not in the book: it may carry anything as any animal may."""
        return self._founder("X", "unknown", 0)

    def _season(self, year: int) -> None:
        grown = [one for brood in self.broods if brood.laid.year < year - 1 for one in brood.kept]
        adults = [*self.founders, *grown]
        females = [one for one in adults if one.sex == "female"]
        males = [one for one in adults if one.sex == "male"]
        for number, dam in enumerate(self.draw.sample(females, min(6, len(females)))):
            laid = date(year, 4, 1) + timedelta(days=9 * number)
            self._breed(f"C{year % 100}{number}", laid, dam, self.draw.choice(males))

    def _breed(self, code: str, laid: date, dam: Beast, sire: Beast) -> None:
        brood = Brood(code, laid, dam, (sire,), dam, sire)
        mates = self._earlier(brood)
        others = [one for one in self._sires_near(laid) if one not in (sire, *mates)]
        happened = next((one for one in mates if self._happens(Kind.STORED)), None)
        if happened is not None:
            brood.sires = (happened,)
        elif self._happens(Kind.OTHER_SIRE):
            brood.sires = (self.draw.choice([*others, self._stranger()]),)
        elif self._happens(Kind.SECOND_SIRE):
            brood.sires = (sire, self.draw.choice([*mates, *others, self._stranger()]))
        if self._happens(Kind.WRONG_DAM):
            near = [one.told_dam for one in self.broods if abs((one.laid - laid).days) <= 14]
            brood.dam = self.draw.choice([*near, self._stranger()])
        for number in range(self.draw.randint(3, 8)):
            by = brood.sires[-1] if self.draw.random() < _SECOND_SHARE else brood.sires[0]
            genes = {at: (self._gamete(brood.dam, at), self._gamete(by, at)) for at in dam.genes}
            sex = self.draw.choice(("female", "male"))
            brood.young.append(Beast(f"{code}-{number + 1}", sex, genes))
        brood.kept = brood.young[:3]
        self.broods.append(brood)

    def _gamete(self, parent: Beast, at: str) -> str:
        return self.draw.choice(parent.genes[at])

    def _earlier(self, brood: Brood) -> list[Beast]:
        told = [
            one.told_sire for one in self.broods
            if one.told_dam is brood.told_dam and (brood.laid - one.laid).days <= 3 * 365
        ]  # fmt: skip
        return [one for one in dict.fromkeys(told) if one is not brood.told_sire]

    def _sires_near(self, laid: date) -> list[Beast]:
        near = [one.told_sire for one in self.broods if (laid - one.laid).days <= 365]
        return list(dict.fromkeys(near))

    def _mix_up(self) -> None:
        """Two hatchlings of two clutches of one season are taken for each other.

        What they are was decided before they bred: so only those that did not breed.
        """
        parents = {one for brood in self.broods for one in (brood.dam, *brood.sires)}
        for brood in self.broods:
            for one in [one for one in brood.kept if one not in parents]:
                others = [
                    (other, there) for there in self.broods
                    if there is not brood and there.laid.year == brood.laid.year
                    for other in there.kept if other.sex == one.sex and other not in parents
                ]  # fmt: skip
                # Each takes another with it.
                if others and self.draw.random() < _often(Kind.MIXED_UP) / 2:
                    other, _ = self.draw.choice(others)
                    one.genes, other.genes = other.genes, one.genes
                    self.mixed |= {one, other}

    # --- what is written --------------------------------------------------------------------

    def _write(self) -> None:
        with writing(by=self.by, what="A drawn book") as book:
            self._register(book)
            for beast in self.founders:
                beast.row = book.keep(
                    m.Animal(species=self.species, code=beast.code, sex=beast.sex)
                )
                self._say(book, beast)
            for brood in self.broods:
                self._hatch(book, brood)
            book.touched.species.add(self.species.pk)
        self.true |= {f"mixed-up-{one.pk}" for one in self.mixed}

    def _register(self, book: Writing) -> None:
        self.species = book.keep(m.Species(name="Drawn python", sex_determination="XY"))
        self.traits, self.lines = {}, {}
        for name, lines in _LINES.items():
            shown = m.Shown.RECESSIVE if _SHOWN[name] == 2 else m.Shown.DOMINANT
            self.traits[name] = book.keep(m.Trait(species=self.species, name=name, shown=shown))
            for line in lines:
                locus = book.keep(m.Locus(species=self.species, name=f"{name} {line}"))
                self.lines[line] = book.keep(
                    m.Line(trait=self.traits[name], locus=locus, code=line, name=line)
                )
        if self.one_gene:
            pks = sorted(self.lines[line].pk for line in ("PEL", "DUN"))
            self.true.add(f"one-gene-{pks[0]}-{pks[1]}")

    def _say(self, book: Writing, beast: Beast) -> None:
        self.undeclared[beast.pk] |= beast.unsaid
        for trait, said in beast.said.items():
            claim, line = said.split()
            row = m.Statement(animal=beast.row, trait=self.traits[trait], claim=claim)
            row.line = self.lines[line]
            book.keep(row)
            if trait in beast.wrong:
                self.true.add(f"word-{row.pk}")

    def _hatch(self, book: Writing, brood: Brood) -> None:
        clutch = book.keep(
            m.Clutch(
                species=self.species, code=brood.code, laid_on=brood.laid, dam=brood.told_dam.row
            )
        )
        book.keep(m.CandidateSire(clutch=clutch, sire=brood.told_sire.row))
        self._note_parents(brood, clutch.pk)
        for beast in brood.kept:
            beast.row = book.keep(
                m.Animal(species=self.species, code=beast.code, sex=beast.sex, clutch=clutch)
            )
            self._look(book, beast, brood.laid + timedelta(days=70))
        rows: dict[tuple[bool, ...], list[set[str]]] = defaultdict(list)
        for beast in brood.young[3:]:
            seen, wrong = self._seen(beast)
            rows[tuple(seen.values())].append(wrong)
        for looks, misread in rows.items():
            self._row(book, clutch, looks, misread)

    def _note_parents(self, brood: Brood, pk: int) -> None:
        told, truly = brood.told_sire, brood.sires
        if len(truly) == 2:
            self.true.add(f"second-{pk}-{truly[1].pk}")
        elif truly[0] is not told:
            kind = "stored" if truly[0] in self._earlier(brood) else "sire"
            self.true.add(f"{kind}-{pk}-{truly[0].pk}")
        if brood.dam is not brood.told_dam:
            self.true.add(f"dam-{pk}-{brood.dam.pk}")

    def _shows(self, beast: Beast, trait: str) -> bool:
        places = {self._at(line) for line in _LINES[trait]}
        copies = (sum(one in _LINES[trait] for one in beast.genes[at]) for at in places)
        return max(copies) >= _SHOWN[trait]

    def _seen(self, beast: Beast) -> tuple[dict[str, bool], set[str]]:
        """What is read of an animal, and the traits of which that is wrong."""
        wrong = {trait for trait in _LINES if self._happens(Kind.LOOK)}
        return {trait: self._shows(beast, trait) != (trait in wrong) for trait in _LINES}, wrong

    def _look(self, book: Writing, beast: Beast, on: date) -> None:
        seen, wrong = self._seen(beast)
        whole = None
        if self.draw.random() < 0.5:
            whole = book.keep(m.Look(animal=beast.row, on=on, by=self.by))
        for trait, is_seen in seen.items():
            if whole is None or is_seen:
                one = m.Observation(
                    animal=beast.row, trait=self.traits[trait], look=whole, on=on, by=self.by,
                    seen=m.Seen.YES if is_seen else m.Seen.NO,
                )  # fmt: skip
                book.keep(one)
                if trait in wrong:
                    self.true.add(f"look-{one.pk}")
            elif trait in wrong:
                self.true.add(f"whole-{whole.pk}-{self.traits[trait].pk}")

    def _row(
        self, book: Writing, clutch: m.Clutch, looks: tuple[bool, ...], misread: list[set[str]]
    ) -> None:
        whole = self.draw.random() < 0.5
        row = book.keep(m.HatchRow(clutch=clutch, count=len(misread), whole=whole))
        for trait, is_seen in zip(_LINES, looks, strict=True):
            if is_seen or not whole:
                book.keep(m.RowSighting(row=row, trait=self.traits[trait], seen=is_seen))
            if all(trait in wrong for wrong in misread):
                self.true.add(f"row-{row.pk}-{self.traits[trait].pk}")
