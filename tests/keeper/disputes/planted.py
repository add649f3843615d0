"""Random small books with one planted mistake, and which explanation tells it.

The genes are drawn by Mendel's rules in a world of their own; the book says what a keeper would
have written, and is wrong in one thing. Books in which nothing contradicts it are drawn again:
a mistake that makes nothing impossible is no dispute.
"""

from dataclasses import dataclass, field
from datetime import date, timedelta
from random import Random
from typing import ClassVar

from django.db import transaction

from keeper import models as m
from keeper.domain.book.writing import Writing, writing
from keeper.domain.explaining import DisputeCluster, Weighed, clusters, explained
from keeper.domain.inference import Unanswerable

# Look, lines, and how it is shown. At a locus on both sex chromosomes the genes travel as phases.
_LOOKS = {
    "Saltgrass": ("HAR",),
    "Quillwort": ("PEL", "DUN"),
    "Gale": ("VEY",),
    "Fogbell": ("TOR",),
}
_SHOWN = {"Saltgrass": 2, "Quillwort": 2, "Gale": 1, "Fogbell": 1}
_CROSSOVER = 0.05
# So often a look is whole: what was not seen is not named.
_WHOLE = 0.5
# So many books are drawn at most until one has a dispute.
_ATTEMPTS = 100

# Two copies at each line's locus; at Fogbell's the first is on the X, a male's second on the Y.
Genes = dict[str, tuple[str, str]]


@dataclass
class Beast:
    """An animal as it truly is."""

    code: str
    sex: str
    genes: Genes
    row: m.Animal | None = None
    claims: dict[str, str] = field(default_factory=dict)


@dataclass
class Brood:
    """A clutch as it truly was, and as it is written down."""

    code: str
    dam: Beast
    sire: Beast
    laid: date
    young: list[Beast] = field(default_factory=list)
    told_dam: Beast | None = None
    told_sire: Beast | None = None
    row: m.Clutch | None = None


class World:
    """One drawn world with one mistake of a kind in its book.

    Attributes:
        keys: the explanations that tell the mistake; any of them is right.
    """

    def __init__(self, by: m.Account, kind: str, seed: int) -> None:
        self.by, self.draw = by, Random(f"{kind}-{seed}")
        self.beasts: list[Beast] = []
        self.broods: list[Brood] = []
        self.keys: set[str] = set()
        self.mistake = MISTAKES[kind](self)
        self._live()

    # --- what truly happened ---------------------------------------------------------------

    def _locus(self, line: str) -> str:
        return self.mistake.true_locus(line)

    def founder(self, code: str, sex: str) -> Beast:
        genes: Genes = {}
        claims: dict[str, str] = {}
        for lines in _LOOKS.values():
            for line in lines:
                at = self._locus(line)
                genes.setdefault(at, ("+", "+"))
                if self.draw.random() < 0.25 and not claims.keys() & set(lines):
                    two = self.draw.random() < 0.4 and line != "TOR"
                    pair = (line, line) if two else (line, "+")
                    genes[at] = pair if two or self.draw.random() < 0.5 else pair[::-1]
                    claims[line] = "double" if two else "carries"
        one = Beast(code, sex, genes, claims=claims)
        self.beasts.append(one)
        return one

    def _gamete(self, parent: Beast, at: str, sex: str) -> str:
        first, second = parent.genes[at]
        if at != "TOR":
            return self.draw.choice((first, second))
        if parent.sex == "female":
            return self.draw.choice((first, second))
        crossed = self.mistake.crosses_over()
        from_x = (sex == "female") != crossed
        return first if from_x else second

    def _breed(self, code: str, dam: Beast, sire: Beast, laid: date) -> Brood:
        brood = Brood(code, dam, sire, laid, told_dam=dam, told_sire=sire)
        for number in range(self.draw.randint(4, 8)):
            sex = self.draw.choice(("female", "male"))
            genes = {
                at: (self._gamete(dam, at, sex), self._gamete(sire, at, sex)) for at in dam.genes
            }
            brood.young.append(Beast(f"{code}-{number + 1}", sex, genes))
        self.broods.append(brood)
        return brood

    def _live(self) -> None:
        females = [self.founder(f"F{n}", "female") for n in range(1, 5)]
        males = [self.founder(f"M{n}", "male") for n in range(1, 5)]
        year = 2020
        for season in range(3):
            for number, dam in enumerate(self.draw.sample(females, 3)):
                laid = date(year + season, 5, 1) + timedelta(days=6 * number)
                self._breed(f"C{season}{number}", dam, self.draw.choice(males), laid)
            grown = [one for brood in self.broods[-3:] for one in brood.young[:2]]
            self.beasts += grown
            females += [one for one in grown if one.sex == "female"]
            males += [one for one in grown if one.sex == "male"]

    def shows(self, beast: Beast, look: str) -> bool:
        """Whether an animal truly shows a look."""
        copies = [
            sum(copy in _LOOKS[look] for copy in beast.genes[at])
            for at in {self._locus(line) for line in _LOOKS[look]}
        ]
        return max(copies) >= _SHOWN[look]

    # --- what is written -------------------------------------------------------------------

    def write(self) -> bool:
        """Write the book with its mistake; False if there is nothing to be mistaken about."""
        with writing(by=self.by, what="A random book") as book:
            self._register(book)
            for beast in self.beasts:
                if "-" not in beast.code:
                    beast.row = book.keep(
                        m.Animal(species=self.species, code=beast.code, sex=beast.sex)
                    )
            if not self.mistake.plant():
                return False
            for beast in self.beasts:
                for line, claim in beast.claims.items():
                    self._say(book, beast, line, claim)
            for brood in self.broods:
                self._hatch(book, brood)
            self.keys |= self.mistake.keys()
            book.touched.species.add(self.species.pk)
        return True

    def _register(self, book: Writing) -> None:
        self.species = book.keep(
            m.Species(
                name="Drawn python",
                sex_determination="XY",
                alone_known=isinstance(self.mistake, DamAlone),
            )
        )
        self.traits, self.lines = {}, {}
        for look, lines in _LOOKS.items():
            shown = m.Shown.RECESSIVE if _SHOWN[look] == 2 else m.Shown.DOMINANT
            trait = book.keep(m.Trait(species=self.species, name=look, shown=shown))
            self.traits[look] = trait
            for line in lines:
                name = f"{look} {self.mistake.told_locus(look, line)}"
                locus = m.Locus.objects.filter(species=self.species, name=name).first()
                if locus is None:
                    both = m.Chromosome.BOTH if line == "TOR" else m.Chromosome.AUTOSOME
                    locus = book.keep(m.Locus(species=self.species, name=name, chromosome=both))
                self.lines[line] = book.keep(m.Line(trait=trait, locus=locus, code=line, name=line))

    def _say(self, book: Writing, beast: Beast, line: str, claim: str) -> None:
        trait = self.lines[line].trait
        if not m.Statement.objects.live().filter(animal=beast.row, trait=trait).exists():
            book.keep(
                m.Statement(animal=beast.row, trait=trait, line=self.lines[line], claim=claim)
            )

    def _hatch(self, book: Writing, brood: Brood) -> None:
        assert brood.told_dam is not None and brood.told_sire is not None
        brood.row = book.keep(
            m.Clutch(
                species=self.species, code=brood.code, laid_on=brood.laid, dam=brood.told_dam.row
            )
        )
        book.keep(m.CandidateSire(clutch=brood.row, sire=brood.told_sire.row))
        kept = [one for one in brood.young if one in self.beasts]
        rows: dict[tuple[bool, ...], int] = {}
        for one in brood.young:
            if one in kept:
                self._record(book, brood, one)
            else:
                seen = tuple(self.shows(one, look) for look in _LOOKS)
                rows[seen] = rows.get(seen, 0) + 1
        for seen, count in rows.items():
            whole = self.draw.random() < _WHOLE
            row = book.keep(m.HatchRow(clutch=brood.row, count=count, whole=whole))
            # At once and unchecked: a book has hundreds of looks, and all are in order.
            m.RowSighting.objects.bulk_create(
                m.RowSighting(row=row, trait=self.traits[look], seen=is_seen)
                for look, is_seen in zip(_LOOKS, seen, strict=True)
                if is_seen or not whole
            )

    def _record(self, book: Writing, brood: Brood, one: Beast) -> None:
        one.row = book.keep(
            m.Animal(species=self.species, code=one.code, sex=one.sex, clutch=brood.row)
        )
        on, whole = brood.laid + timedelta(days=60), None
        if self.draw.random() < _WHOLE:
            whole = book.keep(m.Look(animal=one.row, on=on, by=self.by))
        seen = {look: self.mistake.seen(one, look) for look in _LOOKS}
        told = [look for look, is_seen in seen.items() if is_seen or whole is None]
        kept = m.Observation.objects.bulk_create(
            m.Observation(
                animal=one.row, trait=self.traits[look], on=on, by=self.by, look=whole,
                seen=m.Seen.YES if seen[look] else m.Seen.NO,
            )
            for look in told
        )  # fmt: skip
        keys = {look: f"look-{row.pk}" for look, row in zip(told, kept, strict=True)}
        for look in _LOOKS:
            unnamed = f"whole-{whole.pk}-{self.traits[look].pk}" if whole is not None else ""
            self.mistake.noted(one, look, keys.get(look, unnamed))

    def breed_again(self, brood: Brood) -> None:
        """What hatches of the true parents, and all that was bred from it since."""
        for one in brood.young:
            one.genes = {
                at: (
                    self._gamete(brood.dam, at, one.sex),
                    self._gamete(brood.sire, at, one.sex),
                )
                for at in brood.dam.genes
            }
        for later in self.broods:
            if later.laid > brood.laid and (later.dam in brood.young or later.sire in brood.young):
                self.breed_again(later)


# --- the mistakes --------------------------------------------------------------------------------


class Mistake:
    """One thing that the book has wrong.

    Attributes:
        kind: its name.
        often: in how many of a hundred books: the commoner mistakes of a keeper more often.
    """

    kind: ClassVar[str]
    often: ClassVar[int]

    def __init__(self, world: World) -> None:
        self.world, self.draw = world, world.draw

    def plant(self) -> bool:
        """Make it, in what is true or in what is told; False if there is nothing to mistake."""
        return True

    def keys(self) -> set[str]:
        """Return which explanations are right, now that all has a row."""
        raise NotImplementedError

    def true_locus(self, line: str) -> str:
        """Return where a line truly sits."""
        return {"PEL": "q1", "DUN": "q2"}.get(line, line)

    def told_locus(self, look: str, line: str) -> str:
        """Return where the register has it."""
        return line

    def crosses_over(self) -> bool:
        """Whether a male hands on what lay on his other sex chromosome."""
        return False

    def seen(self, beast: Beast, look: str) -> bool:
        """Whether the book says that an animal shows a look."""
        return self.world.shows(beast, look)

    def noted(self, beast: Beast, look: str, key: str) -> None:
        """Take note of the explanation that what says so was misread."""


def _pk(one: Beast | Brood | None) -> int:
    return one.row.pk if one is not None and one.row is not None else 0


class Misread(Mistake):
    """A look was entered as its contrary."""

    kind, often = "misread", 28

    def plant(self) -> bool:
        kept = [one for one in self.world.beasts if "-" in one.code]
        self.of = (self.draw.choice(kept), self.draw.choice(list(_LOOKS)))
        self.rows: set[str] = set()
        return True

    def seen(self, beast: Beast, look: str) -> bool:
        return super().seen(beast, look) != (self.of == (beast, look))

    def noted(self, beast: Beast, look: str, key: str) -> None:
        if self.of == (beast, look):
            self.rows.add(key)

    def keys(self) -> set[str]:
        return self.rows


class MixedUp(Mistake):
    """Two hatchlings of two clutches were taken for each other."""

    kind, often = "mixed-up", 12

    def plant(self) -> bool:
        beasts = self.world.beasts
        one, other = self.draw.sample(self.world.broods[:3], 2)
        mine = [beast for beast in one.young if beast in beasts]
        pairs = [(a, b) for a in mine for b in other.young if b in beasts and a.sex == b.sex]
        if not pairs:
            return False
        self.a, self.b = self.draw.choice(pairs)
        at, there = one.young.index(self.a), other.young.index(self.b)
        one.young[at], other.young[there] = self.b, self.a
        return True

    def keys(self) -> set[str]:
        both = sorted(f"mixed-up-{_pk(one)}" for one in (self.a, self.b))
        return {*both, "+".join(both)}


class Stored(Mistake):
    """A clutch is of the sire of the dam's clutch before."""

    kind, often = "stored", 12

    def plant(self) -> bool:
        broods = self.world.broods
        late = [
            (brood, before)
            for brood in broods
            for before in broods
            if before.dam is brood.dam and before.laid < brood.laid and before.sire != brood.sire
        ]
        if not late:
            return False
        self.brood, before = self.draw.choice(late)
        self.sire = before.sire
        self.brood.told_sire, self.brood.sire = self.brood.sire, self.sire
        self.world.breed_again(self.brood)
        return True

    def keys(self) -> set[str]:
        return {f"stored-{_pk(self.brood)}-{_pk(self.sire)}"}


class Stranger(Mistake):
    """The sire of a clutch is not in the book."""

    kind, often = "stranger", 10

    def plant(self) -> bool:
        self.brood = self.draw.choice(self.world.broods)
        other = self.world.founder("X1", "male")
        self.world.beasts.remove(other)
        self.brood.sire = other
        self.world.breed_again(self.brood)
        return True

    def keys(self) -> set[str]:
        return {f"sire-{_pk(self.brood)}-0"}


class Undeclared(Mistake):
    """A founder carries what nobody declared."""

    kind, often = "undeclared", 18
    _lines = frozenset({"HAR", "PEL", "DUN"})

    def plant(self) -> bool:
        named = [one for one in self.world.beasts if set(one.claims) & self._lines]
        named = [one for one in named if "double" not in one.claims.values()]
        if not named:
            return False
        self.founder = self.draw.choice(named)
        del self.founder.claims[self.draw.choice(sorted(set(self.founder.claims) & self._lines))]
        return True

    def keys(self) -> set[str]:
        return {f"undeclared-{_pk(self.founder)}"}


class FalseWord(Mistake):
    """A founder that carries a line was sold as clear of it."""

    kind, often = "word", 6

    def plant(self) -> bool:
        named = [one for one in self.world.beasts if one.claims.get("HAR") == "carries"]
        if not named:
            return False
        self.founder = self.draw.choice(named)
        self.founder.claims["HAR"] = "clear"
        return True

    def keys(self) -> set[str]:
        trait = self.world.traits["Saltgrass"]
        said = m.Statement.objects.get(animal=_pk(self.founder), trait=trait)
        return {f"word-{said.pk}"}


class Dam(Mistake):
    """The dams of two clutches were exchanged."""

    kind, often = "dam", 4

    def plant(self) -> bool:
        self.one, self.other = self.draw.sample(self.world.broods[:3], 2)
        self.one.told_dam, self.other.told_dam = self.other.dam, self.one.dam
        return True

    def keys(self) -> set[str]:
        return {
            f"dam-{_pk(brood)}-{dam}"
            for brood in (self.one, self.other)
            for dam in (_pk(brood.dam), 0)
        }


class OneGene(Mistake):
    """Two lines that the register has at two loci are one gene."""

    kind, often = "one-gene", 4

    def true_locus(self, line: str) -> str:
        return {"PEL": "q1", "DUN": "q1"}.get(line, line)

    def keys(self) -> set[str]:
        lines = self.world.lines
        return {f"one-gene-{lines['PEL'].pk}-{lines['DUN'].pk}"}


class TwoGenes(Mistake):
    """Two lines that the register has at one locus are two genes."""

    kind, often = "two-genes", 2

    def told_locus(self, look: str, line: str) -> str:
        return "q1" if look == "Quillwort" else line

    def keys(self) -> set[str]:
        return {f"two-genes-{self.world.lines[code].pk}" for code in ("PEL", "DUN")}


class Crossover(Mistake):
    """A gene of both sex chromosomes crosses over, which the register denies."""

    kind, often = "crossover", 2

    def crosses_over(self) -> bool:
        return self.draw.random() < _CROSSOVER

    def keys(self) -> set[str]:
        return {f"crossover-{self.world.lines['TOR'].locus_id}"}


class Mutation(Mistake):
    """A dominant gene began with an animal."""

    kind, often = "mutation", 2

    def plant(self) -> bool:
        world = self.world
        normal = [one for one in world.beasts if "-" in one.code and not world.shows(one, "Gale")]
        if not normal:
            return False
        self.first = self.draw.choice(normal)
        self.first.genes["VEY"] = ("VEY", "+")
        for brood in world.broods:
            if self.first in (brood.dam, brood.sire):
                world.breed_again(brood)
        return True

    def keys(self) -> set[str]:
        return {f"mutation-{_pk(self.first)}-{self.world.lines['VEY'].pk}"}


class DamAlone(Mistake):
    """A clutch is of its dam alone: two copies of one of hers at each locus, daughters all."""

    kind, often = "alone", 3

    def plant(self) -> bool:
        world = self.world
        parents = {id(one) for brood in world.broods for one in (brood.dam, brood.sire)}
        unbred = [
            brood for brood in world.broods if not any(id(one) in parents for one in brood.young)
        ]
        self.brood = self.draw.choice(unbred)
        for one in self.brood.young:
            one.sex = "female"
            copies = {at: self.draw.choice(pair) for at, pair in self.brood.dam.genes.items()}
            one.genes = {at: (copy, copy) for at, copy in copies.items()}
        return True

    def keys(self) -> set[str]:
        return {f"alone-{_pk(self.brood)}"}


MISTAKES = {one.kind: one for one in Mistake.__subclasses__()}
# What is planted, how often of a hundred.
MIX = {kind: one.often for kind, one in MISTAKES.items()}


def explained_at(by: m.Account, kind: str, seed: int) -> tuple[int | None, list[str]]:
    """Draw a book with a dispute and a mistake of a kind; where its explanation is ranked.

    None: it is not listed. With what is listed, for those who look. The caller takes the book
    back.
    """
    for attempt in range(_ATTEMPTS):
        point = transaction.savepoint()
        world = World(by, kind, seed + attempt)
        if world.write() and m.Dispute.objects.filter(closed=None).exists():
            listed = [one for cluster in clusters() for one in _told(cluster)]
            told = [f"{one.share:.3f} {one.key} {one.text}" for one in listed]
            places = [
                place
                for cluster in clusters()
                for place, one in enumerate(_told(cluster))
                if one.key in world.keys
            ]
            return min(places, default=None), [*sorted(world.keys), *told]
        transaction.savepoint_rollback(point)
    raise LookupError(f"no book with a dispute by {kind} in {_ATTEMPTS} drawn")


def _told(cluster: DisputeCluster) -> tuple[Weighed, ...]:
    try:
        return explained(cluster)
    except Unanswerable:
        return ()
