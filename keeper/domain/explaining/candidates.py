"""Which explanations there may be for records that cannot all be true."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property, partial
from itertools import combinations
from typing import TypeVar

from keeper.domain.explaining import changes
from keeper.domain.explaining.changes import Explanation
from keeper.domain.explaining.clusters import DisputeCluster
from keeper.domain.explaining.kin import (
    earlier_mates,
    founders,
    other_dams,
    other_males,
    seen_on,
    so_looking,
)
from keeper.domain.explaining.rates import Kind, Rates
from keeper.domain.inference import Source
from keeper.models import (
    Animal,
    Arising,
    Chromosome,
    Claim,
    Clutch,
    Found,
    HatchRow,
    LabTest,
    Line,
    Locus,
    Look,
    Observation,
    OpenPair,
    Record,
    RowSighting,
    Seen,
    Shown,
    Standing,
    Statement,
    Trait,
)

_OTHERS = 6  # How many other animals here are tried for one parent.
# Traits of which one look tells what an animal has, but for a second copy.
_BY_ONE_LOOK = {Shown.RECESSIVE, Shown.DOMINANT, Shown.SINGLE}

Row = TypeVar("Row", bound=Record)


def candidates(cluster: DisputeCluster, rates: Rates) -> list[Explanation]:
    """Return every explanation to be tried, each kind of thing once for what it is about.

    Where the change is made for the traits of what would still clash, the key names them too.
    """
    found = _Candidates(cluster, rates)
    every = (
        *found.looks(), *found.results(), *found.words(), *found.undeclared(), *found.sires(),
        *found.dams(), *found.mixed_up(), *found.lines(), *found.crossovers(), *found.mutations(),
        *found.beginnings(),
    )  # fmt: skip
    if cluster.clash:
        of = "".join(f".{pk}" for pk in sorted(cluster.traits))
        every = tuple(
            replace(one, key=f"{one.key}{of}") if one.kind == Kind.UNDECLARED else one
            for one in every
        )
    return list({one.key: one for one in every}.values())


@dataclass(frozen=True)
class _Candidates:
    cluster: DisputeCluster
    rates: Rates

    def often(self, kind: Kind) -> Fraction:
        """How often a kind of thing happens."""
        return self.rates[kind].chance

    @cached_property
    def traits(self) -> list[Trait]:
        """The traits in question, those with lines of their own: what somebody may carry."""
        found: dict[int, Trait] = {}
        for trait in Trait.objects.filter(pk__in=self.cluster.traits).select_related("base"):
            own = trait.base or trait
            named = Line.objects.live().filter(trait=own)
            if not named.exists():
                within = trait.showings.live().values("conditions__lines")
                found |= {one.trait_id: one.trait for one in _lines(within)}
            else:
                found[own.pk] = own
        return [found[pk] for pk in sorted(found)]

    @cached_property
    def carried(self) -> list[Trait]:
        """Those, and what else anybody here may carry: a parent from elsewhere may have any."""
        may = Standing.objects.filter(animal__in=self.cluster.scope, none__lt=1).order_by()
        own = Trait.objects.live().filter(pk__in=may.exclude(line=None).values("trait"))
        found = {one.pk: one for one in (*self.traits, *own.filter(base=None))}
        return [found[pk] for pk in sorted(found)]

    @cached_property
    def shown(self) -> set[int]:
        """The animals on which a trait in question was seen."""
        seen = Observation.objects.live().filter(seen=Seen.YES, trait__in=self.cluster.traits)
        named = seen.filter(animal__in=[*self.cluster.animals, *self.cluster.parents])
        return set(named.values_list("animal_id", flat=True))

    def records(self, kind: type[Row]) -> list[Row]:
        return [one for one in self.cluster.records if isinstance(one, kind)]

    def looks(self) -> Iterator[Explanation]:
        for look in self.records(Observation):
            seen = f"{look.trait} was {'' if look.seen == Seen.YES else 'not '}seen"
            yield Explanation(
                Kind.LOOK,
                f"look-{look.pk}",
                f"{look.animal} was misread: the book says that {seen} on it",
                self.often(Kind.LOOK),
                partial(changes.withdraw_look, pk=look.pk),
                frozenset({("observation", look.pk)}),
            )
        for whole in self.records(Look):
            for trait in self._not_seen(whole.observations.all()):
                yield Explanation(
                    Kind.LOOK,
                    f"whole-{whole.pk}-{trait.pk}",
                    f"{whole.animal} was misread: the book says that {trait} was not seen on it",
                    self.often(Kind.LOOK),
                    partial(changes.unsay, look=whole.pk, trait=trait.pk),
                    frozenset({("look", whole.pk)}),
                )
        for row in self.records(HatchRow):
            yield from self._looks_of_row(row)

    def _not_seen(self, named: Iterable[Observation | RowSighting]) -> Iterator[Trait]:
        """The traits in question that a whole look does not name."""
        said = {one.trait_id for one in named}
        yield from Trait.objects.filter(pk__in=self.cluster.traits - said).order_by("pk")

    def _looks_of_row(self, row: HatchRow) -> Iterator[Explanation]:
        sightings = row.sightings.live().select_related("trait")
        told = [
            (one.trait, f"{one}")
            for one in sightings
            if one.trait_id in self.cluster.traits and one.seen is not None
        ]
        if row.whole:
            told += [(trait, f"{trait} not seen") for trait in self._not_seen(sightings)]
        for trait, said in told:
            yield Explanation(
                Kind.LOOK,
                f"row-{row.pk}-{trait.pk}",
                f"{row} {'were' if row.count > 1 else 'was'} misread: the book says {said}",
                self.often(Kind.LOOK) ** row.count,
                partial(changes.unsay_of_row, row=row.pk, trait=trait.pk),
                frozenset({("hatchrow", row.pk)}),
            )

    def results(self) -> Iterator[Explanation]:
        for test in self.records(LabTest):
            yield Explanation(
                Kind.RESULT,
                f"result-{test.pk}",
                f"the laboratory was wrong: {test}",
                self.often(Kind.RESULT),
                partial(changes.withdraw_result, pk=test.pk),
                frozenset({("labtest", test.pk)}),
            )

    def words(self) -> Iterator[Explanation]:
        for said in self.records(Statement):
            # What was seen on it says more of its genes than that it may carry them.
            denied = said.claim == Claim.CLEAR and said.animal_id not in self.shown
            yield Explanation(
                Kind.WORD,
                f"word-{said.pk}",
                f"{said.source or 'whoever said it'} was wrong: {said}",
                # What was denied is then as likely as of any founder: the change says so.
                Fraction(1) if denied else self.often(Kind.WORD),
                partial(changes.withdraw_word, pk=said.pk, traits=self.traits if denied else ()),
                frozenset({("statement", said.pk)}),
            )

    def undeclared(self) -> Iterator[Explanation]:
        declared = set(
            Statement.objects.live()
            .filter(trait__in=self.traits)
            .values_list("animal_id", flat=True)
        )
        named = " or ".join(map(str, self.traits))
        for founder in founders((*self.cluster.animals, *self.cluster.parents)):
            if founder.pk not in declared:
                yield Explanation(
                    Kind.UNDECLARED,
                    f"undeclared-{founder.pk}",
                    f"{founder} carried {named}, and nobody said so",
                    # The change makes it a possible carrier with the chance of one.
                    Fraction(1),
                    partial(changes.declare, animal=founder, traits=self.traits),
                )

    def sires(self) -> Iterator[Explanation]:
        for clutch in self.cluster.clutches:
            if clutch.dam_id is not None and clutch.species.alone_known:
                yield Explanation(
                    Kind.ALONE,
                    f"alone-{clutch.pk}",
                    f"no male sired clutch {clutch}: it is of {clutch.dam} alone",
                    self.often(Kind.ALONE),
                    partial(changes.leave_alone, clutch=clutch.pk),
                    decides=f"sire of {clutch.pk}",
                )
            mates = list(earlier_mates(clutch))
            for male in mates:
                yield self._sire(clutch, male, Kind.STORED, f"sperm of {male}, kept from before,")
            others = other_males(clutch, {one.pk for one in mates})
            # Any of them as well as one that is not recorded.
            among, unknown = 1 + len(others), "a male not recorded"
            tried = self._likeliest(others)
            for other in (*tried, None):
                yield self._sire(clutch, other, Kind.OTHER_SIRE, str(other or unknown), among)
            for second in (*mates, *tried, None):
                yield Explanation(
                    Kind.SECOND_SIRE,
                    f"second-{clutch.pk}-{second.pk if second else 0}",
                    f"{second or unknown} sired a part of clutch {clutch} as well",
                    self.often(Kind.SECOND_SIRE) / (among + len(mates)),
                    partial(
                        changes.add_sire,
                        clutch=clutch.pk,
                        sire=second.pk if second else None,
                        traits=self.carried,
                    ),
                    decides=f"sire of {clutch.pk}",
                )

    def _sire(
        self, clutch: Clutch, male: Animal | None, kind: Kind, who: str, among: int = 1
    ) -> Explanation:
        return Explanation(
            kind,
            f"{kind}-{clutch.pk}-{male.pk if male else 0}",
            f"{who} sired clutch {clutch}",
            self.often(kind) / among,
            partial(
                changes.replace_sire,
                clutch=clutch.pk,
                sire=male.pk if male else None,
                traits=self.carried,
            ),
            decides=f"sire of {clutch.pk}",
        )

    def dams(self) -> Iterator[Explanation]:
        for clutch in self.cluster.clutches:
            others = other_dams(clutch)
            for dam in (*self._likeliest(others), None):
                yield Explanation(
                    Kind.WRONG_DAM,
                    f"dam-{clutch.pk}-{dam.pk if dam else 0}",
                    f"{dam or 'a female not recorded'} laid clutch {clutch}",
                    self.often(Kind.WRONG_DAM) / (1 + len(others)),
                    partial(
                        changes.replace_dam,
                        clutch=clutch.pk,
                        dam=dam.pk if dam else None,
                        traits=self.carried,
                    ),
                    decides=f"dam of {clutch.pk}",
                )

    def mixed_up(self) -> Iterator[Explanation]:
        for animal in {
            one.pk: one for one in (*self.cluster.animals, *self.cluster.parents)
        }.values():
            if animal.is_founder:
                continue
            kind = Kind.MIXED_UP if animal.clutch_id else Kind.PEDIGREE
            whose = f"from clutch {animal.clutch}" if animal.clutch_id else "of the parents stated"
            shown = list(seen_on(animal))
            # What was seen on it says more of its genes than that it may carry them.
            said = {trait.base_id or trait.pk for trait in shown}
            open_ = [trait for trait in self.carried if trait.pk not in said]
            simple = [trait for trait in shown if trait.shown in _BY_ONE_LOOK]
            yield Explanation(
                kind,
                f"{kind}-{animal.pk}",
                f"{animal} is not {whose}: animals were mixed up"
                if animal.clutch_id
                else f"{animal} is not {whose}",
                self.often(kind) * so_looking(animal, simple),
                partial(changes.take_out, animal=animal.pk, traits=open_, shown=simple),
                self._of(animal),
                f"parents of {animal.pk}",
            )

    def _of(self, animal: Animal) -> frozenset[Source]:
        return frozenset(
            source
            for source, record in zip(
                sorted(self.cluster.sources), self.cluster.records, strict=True
            )
            if isinstance(record, Observation | Look | LabTest) and record.animal_id == animal.pk
        )

    def lines(self) -> Iterator[Explanation]:
        carried = set(
            Standing.objects.filter(
                animal__in=[*self.cluster.animals, *self.cluster.parents],
                trait__in=self.traits,
                none__lt=1,
            )
            .exclude(line=None)
            .values_list("line_id", flat=True)
        )
        for a, b in combinations(sorted(_lines(carried), key=lambda one: one.pk), 2):
            if a.trait_id != b.trait_id:
                continue
            if a.locus_id == b.locus_id:
                for apart, rest in ((a, b), (b, a)):
                    yield Explanation(
                        Kind.TWO_GENES,
                        f"two-genes-{apart.pk}",
                        f"{apart} and {rest} are two genes after all",
                        self.often(Kind.TWO_GENES) / 2,
                        partial(changes.make_two_genes, line=apart.pk),
                    )
                continue
            pair = OpenPair.objects.live().filter(one__in=(a, b), other__in=(a, b)).first()
            if pair is not None and not pair.prior:
                continue
            yield Explanation(
                Kind.ONE_GENE,
                f"one-gene-{a.pk}-{b.pk}",
                f"{a} and {b} are one gene after all",
                pair.prior if pair is not None else self.often(Kind.ONE_GENE),
                partial(changes.make_one_gene, line=a.pk, other=b.pk),
            )

    def crossovers(self) -> Iterator[Explanation]:
        at = Locus.objects.live().filter(lines__trait__in=self.traits).distinct()
        for locus in at.exclude(chromosome=Chromosome.AUTOSOME):
            if locus.chromosome == Chromosome.ONE or not locus.recombination:
                yield Explanation(
                    Kind.CROSSOVER,
                    f"crossover-{locus.pk}",
                    f"{locus} changed over between the sex chromosomes",
                    self.often(Kind.CROSSOVER),
                    partial(changes.let_cross, locus=locus.pk),
                )

    def mutations(self) -> Iterator[Explanation]:
        shown = [
            (one.animal, self._shown_by(one.trait))
            for one in self.records(Observation)
            if one.seen == Seen.YES
        ]
        shown += [
            (one.animal, [one.line]) for one in self.records(LabTest) if one.found != Found.NONE
        ]
        for animal, lines in shown:
            for line in lines:
                if not animal.is_founder:
                    yield Explanation(
                        Kind.MUTATION,
                        f"mutation-{animal.pk}-{line.pk}",
                        f"{line} is new in {animal}: a mutation",
                        self.often(Kind.MUTATION),
                        partial(changes.begin, animal=animal.pk, line=line.pk),
                    )

    def _shown_by(self, trait: Trait) -> list[Line]:
        return list(Line.objects.live().filter(trait=trait.base or trait).select_related("trait"))

    def beginnings(self) -> Iterator[Explanation]:
        for began in self.records(Arising):
            yield Explanation(
                Kind.BEGINNING,
                f"beginning-{began.pk}",
                f"{began.line} did not begin with {began.animal}",
                self.often(Kind.BEGINNING),
                partial(changes.withdraw_beginning, pk=began.pk),
                frozenset({("arising", began.pk)}),
            )

    def _likeliest(self, animals: list[Animal]) -> list[Animal]:
        """Of some animals a few: first those that may carry a trait in question."""
        may = set(
            Standing.objects.filter(
                animal__in=animals, trait__in=self.traits, none__lt=1
            ).values_list("animal_id", flat=True)
        )
        return sorted(animals, key=lambda one: one.pk not in may)[:_OTHERS]


def _lines(pks: object) -> list[Line]:
    return list(Line.objects.live().filter(pk__in=pks).select_related("trait", "locus"))
