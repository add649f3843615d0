"""Mates in rows: odds in a few words, the reason in a sentence, what stands against it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from keeper.domain import inference
from keeper.domain.animals import queries as animal_queries
from keeper.domain.inference import Guest, Mates, Pairing, Proof, Unanswerable
from keeper.domain.mates import genes_said, queries, ranking
from keeper.domain.mates.genes_said import Having
from keeper.domain.mates.ranking import Rank
from keeper.domain.mates.warnings import Register, Warn, kinship_said, warnings
from keeper.domain.pairing.summary import best_look, summary
from keeper.domain.register.queries import combinations, lines_combined
from keeper.domain.saying.figures import is_close_kin, percent, percent_up
from keeper.domain.saying.shows import joined
from keeper.domain.saying.wording import Carried
from keeper.models import Animal, GoalPart, Line, Project, Sex, Species, Trait

# So many are shown before all are asked for, and so many projects and genes are told of each.
SHORT, _TOLD = 10, 2
# The same as the pairing look-up goes to.
MOST_EGGS = 60


@dataclass(frozen=True)
class Subject:
    """Who is to be bred.

    Attributes:
        who: the animal, or one that is not in the book.
        name: what it is called in a sentence.
        having: what it has, by trait.
    """

    who: Animal | Guest
    name: str
    having: Having

    @property
    def species(self) -> Species:
        """Its species."""
        return self.who.species


@dataclass(frozen=True)
class MateRow:
    """A mate as a page tells it.

    Attributes:
        odds: what the pair gives, each in a sentence; `looks` what can be seen, `proves` what it
            tells of the animal.
        reason: why it stands where it stands.
        warned: what stands against it, the gravest first.
        kinship: of the pair and what it means, in words; of one not in the book empty.
        pair: the query of the pairing look-up; of one not in the book empty.
        ready: from when it is old enough, where it is not yet.
        genes: what it has, each with its word; `told` the same as a buyer is told it.
    """

    animal: Animal
    odds: tuple[str, ...]
    looks: str
    proves: tuple[str, ...]
    reason: str
    warned: tuple[Warn, ...]
    kinship: str
    close_kin: bool
    pair: str
    ready: date | None
    genes: tuple[str, ...]
    told: tuple[str, ...]


@dataclass(frozen=True)
class Side:
    """The mates of one sex.

    Attributes:
        sex: of the animal, as it is or is taken to be.
        rows: those old enough, the most worth first.
        young: those that are too young yet.
        left: how many more there are to show.
        here: how many mates there are.
        worth: how many of them serve a project, tell something, or give something to see.
        hatchlings: how many a clutch is taken to give.
        problem: why nothing can be said; or empty.
    """

    sex: Sex
    rows: tuple[MateRow, ...] = ()
    young: tuple[MateRow, ...] = ()
    left: int = 0
    here: int = 0
    worth: int = 0
    hatchlings: int = 0
    problem: str = ""

    @property
    def mates_called(self) -> str:
        """Who the mates are: "males"."""
        return f"{queries.OTHER[self.sex].label}s"


Projects = Sequence[tuple[Project, Sequence[GoalPart]]]


def side(subject: Subject, sex: Sex, projects: Projects, today: date, *, everything: bool) -> Side:
    """Rank the mates here of an animal that is, or is taken to be, of a sex."""
    hatchlings = ranking.hatchlings_of(subject.species)
    mates = list(queries.mates_here(subject.species, queries.OTHER[sex]))
    if not mates:
        return Side(sex, hatchlings=hatchlings)
    try:
        asked = inference.mates_of(subject.who, mates, sex=sex)
        ranks = ranking.ranked(asked, projects, hatchlings)
    except Unanswerable as fault:
        return Side(sex, here=len(mates), hatchlings=hatchlings, problem=str(fault))
    young = [one for one in ranks if _is_young(one.mate, today)]
    ready = [one for one in ranks if not _is_young(one.mate, today)]
    order, worth, looks = _in_order(asked, ready, hatchlings, everything=everything)
    shown = order if everything else order[: min(worth, SHORT)]
    shown_young = young if everything else [one for one in young if one.is_worth_it][:SHORT]
    tell = _Teller(subject, sex, hatchlings, today, [*shown, *shown_young])
    return Side(
        sex=sex,
        rows=tuple(tell.row(one, looks.get(one.place)) for one in shown),
        young=tuple(tell.young(one) for one in shown_young),
        left=len(ranks) - len(shown) - len(shown_young),
        here=len(mates),
        worth=worth,
        hatchlings=hatchlings,
    )


# What pairs give, by their places.
_Looks = Mapping[int, Pairing | None]


def _in_order(
    asked: Mates, ready: Sequence[Rank], hatchlings: int, *, everything: bool
) -> tuple[list[Rank], int, _Looks]:
    """Put those last who give nothing but looks, and of them those last who give none.

    Returns them, how many give anything, and what the pairs give that were looked at: all where
    none serves a project or tells anything, or where all are asked for.
    """
    worth = [one for one in ready if one.is_worth_it]
    rest = [one for one in ready if not one.is_worth_it]
    wanted = [*worth, *rest] if everything else worth[:SHORT] or rest
    places = [one.place for one in wanted]
    given = asked.pairings(places, range(1, MOST_EGGS + 1))
    looks = dict(zip(places, given, strict=True))
    shows = {one.place: _shown(looks.get(one.place), hatchlings) for one in rest}
    # Those that show as much keep their order.
    rest.sort(key=lambda one: shows[one.place], reverse=True)
    telling = sum(shows[one.place] > _NOTHING for one in rest)
    return [*worth, *rest], len(worth) + telling, looks


_NOTHING = (0, 0.0)


def _shown(pairing: Pairing | None, hatchlings: int) -> tuple[int, float]:
    """How many looks the best one joins, and the chance of at least one such in a clutch."""
    best = best_look(pairing) if pairing else None
    if best is None:
        return _NOTHING
    return len(best.traits), round(best.at_least_one[min(hatchlings, MOST_EGGS)], 9)


def _is_young(animal: Animal, today: date) -> bool:
    ready = animal.breeds_from
    return ready is not None and ready > today


def register_of(species: Species) -> Register:
    """Read the looks and lines of a species."""
    traits = {one.pk: one for one in Trait.objects.filter(species=species)}
    lines = Line.objects.filter(trait__in=traits).select_related("trait")
    return Register(traits, {one.pk: one for one in lines})


class _Teller:
    """Makes rows of ranks: reads what all of them need at once."""

    def __init__(
        self, subject: Subject, sex: Sex, hatchlings: int, today: date, ranks: Sequence[Rank]
    ) -> None:
        self.subject, self.sex, self.hatchlings, self.today = subject, sex, hatchlings, today
        self.register = register_of(subject.species)
        combined = lines_combined(combinations(self.register.traits.values()))
        self.combined = {
            trait: [line.trait_id for line in lines] for trait, lines in combined.items()
        }
        pks = [one.mate.pk for one in ranks]
        self.carried: Mapping[int, list[Carried]] = animal_queries.carried_by(pks)
        self.statements = queries.statements_of(pks)

    def row(self, rank: Rank, pairing: Pairing | None) -> MateRow:
        carried = self.carried.get(rank.mate.pk, [])
        disputed = any(genes_said.is_disputed(one) for one in carried)
        warned = warnings(pairing, self.register, rank.mate, self.today, disputed=disputed)
        return self._made(rank, warned, pairing)

    def young(self, rank: Rank) -> MateRow:
        """A mate that is too young: without what can be seen, which the look-up tells."""
        return self._made(rank, (), None)

    def _made(self, rank: Rank, warned: tuple[Warn, ...], pairing: Pairing | None) -> MateRow:
        mate, carried = rank.mate, self.carried.get(rank.mate.pk, [])
        having = genes_said.of_animal(carried, self.statements)
        told = genes_said.of_animal(carried, self.statements, on_paper=True)
        who = self.subject.who
        own = isinstance(who, Animal)
        return MateRow(
            animal=mate,
            odds=tuple(self._odds(rank)),
            looks=self._looks(pairing),
            proves=tuple(self._proves(one) for one in rank.proofs[:_TOLD]),
            reason=self._reason(rank, having, pairing),
            warned=warned,
            kinship=kinship_said(rank.kinship) if own else "",
            close_kin=own and is_close_kin(rank.kinship),
            pair=self._pair(who.pk, mate.pk) if isinstance(who, Animal) else "",
            ready=mate.breeds_from if _is_young(mate, self.today) else None,
            genes=tuple(having.values()),
            told=tuple(told.values()),
        )

    def _pair(self, who: int, mate: int) -> str:
        if self.subject.who.sex == Sex.UNKNOWN:
            return ""
        dam, sire = (who, mate) if self.sex == Sex.FEMALE else (mate, who)
        return f"dam={dam}&sire={sire}"

    def _odds(self, rank: Rank) -> list[str]:
        return [
            f"Project {one.project}: a hatchling meets the goal with {percent(one.each)}, at least "
            f"one of {one.hatchlings} with {percent(one.one_of_a_clutch)}."
            for one in rank.projects[:_TOLD]
        ]

    def _proves(self, one: Proof) -> str:
        words = (
            f"{self.register.traits[one.trait]}: a clutch of {self.hatchlings} proves it in "
            f"{self.subject.name} with {percent(one.proven)}; if none shows it, "
            f"{percent_up(one.left)} is left."
        )
        if one.for_95 is None:
            return f"{words} No number of hatchlings is enough for 95 %."
        return f"{words} A carrier shows itself among {one.for_95} with 95 %."

    def _looks(self, pairing: Pairing | None) -> str:
        if pairing is None:
            return ""
        found = summary(pairing, self.register.traits, MOST_EGGS)
        if not found.best:
            return ""
        return f"At best {found.best}: {found.chance} a hatchling, {found.wait}."

    def _both(self, mate: Animal, having: Having, looks: Iterable[Trait]) -> str:
        """What each of the two has of some looks."""
        traits = genes_said.genes_of(looks, self.combined)
        theirs = joined(genes_said.together(having, traits)) or "nothing of it"
        mine = joined(genes_said.together(self.subject.having, traits)) or "nothing of it"
        return f"{mate} has {theirs}; {self.subject.name} has {mine}."

    def _reason(self, rank: Rank, having: Having, pairing: Pairing | None) -> str:
        mate, name = rank.mate, self.subject.name
        if rank.projects:
            best = rank.projects[0]
            both = self._both(mate, having, [part.trait for part in best.parts])
            return f"Toward the project {best.project}, {both}"
        if rank.proofs:
            trait = rank.proofs[0].trait
            theirs = having.get(trait, str(self.register.traits[trait]))
            return f"{mate} has {theirs}: a hatchling that shows it would prove {name}."
        look = best_look(pairing) if pairing else None
        if look is not None:
            looks = [self.register.traits[one] for one in look.traits]
            return f"No open project asks for it. {self._both(mate, having, looks)}"
        if rank.too_large:
            return "What it gives the projects is too much to be worked out exactly."
        return f"It serves no open project and would prove nothing of {name}."
