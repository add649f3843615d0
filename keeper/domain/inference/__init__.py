"""The only bridge between the book's rows and the genetics that answers for them.

Writes call `refresh` (through `keeper.domain.book.writing`); pages ask `pairing`, `mates_of`,
`grounds`, `goal_chances`, `pair_goal`, `kinships`, `Descent`; commands `recompute`, `differences`,
`case_file`.

Nobody outside goes past this file; what is needed of an inner one is exported here.

| room | file | holds |
|---|---|---|
| | `results` | what is answered: plain values |
| `reading` | | the book's rows in the words of `genetics` |
| | `looks` | what looks say of each trait, whole ones of all that they do not name |
| | `combinations` | which copies show a trait that combinations show |
| | `shown_looks` | looks that combinations show, in pieces by group of loci |
| | `papers` | what signed papers of other books tell of an animal |
| | `statements` | what sources say, of animals and lines, and what of it holds together |
| | `asked_traits` | questions as traits |
| | `rows`, `inheritance` | a species' rows and its loci, lines and traits, read once |
| | `showed` | what hatchlings showed, of those that could have |
| | `counted` | which lines count of whom |
| | `carriers` | who can carry what, family by family: what a record can move |
| | `founders`, `keys_of`, `engine_book` | a component as a population of the engine, and back |
| | `maps` | chains of linked loci |
| | `register`, `prepared` | what is read of the register; queries asked many times |
| `walking` | | the book's rows read only as far as somebody walks |
| | `kin`, `reached` | who is around whom, in one query; rows read when they are asked for |
| | `folded`, `families` | rows around some, childless hatchlings counted; rows of families |
| `standings` | | computed, compared with what is stored, written |
| | `copies`, `customary`, `facts` | figures, the figure from the parents alone, the word |
| | `disputes` | records that cannot all be true, and whose numbers depend on which is wrong |
| | `computing`, `storing` | all of this for a component; what differs is written |
| | `keeping` | what an entry moves, and all standings anew |
| | `pieces`, `shows` | how likely animals show such looks: computed, written |
| | `values` | standings as plain values, by the ten thousand |
| | `whole`, `solving` | the whole book solved ahead, here or by workers |
| | `nearby`, `quick` | the small part that new records can move |
| | `sources` | from the engine's records back to rows |
| | `steady`, `stored` | who is certain without any one young; standings as they are read |
| | `apart`, `surprises` | whether a dispute lies in another family; possible but unlikely |
| `questions` | | what pages ask beside standings |
| | `asking`, `kinds` | the parts of the book that bear on a question; what young can look like |
| | `guests` | an animal that is not in the book |
| | `disputed` | where an open dispute bears on a question |
| | `pairs`, `survival`, `parentage`, `family`, `goals` | pairs, sires, kinship, projects |
| | `seen_together` | whether any animal can show several traits at once |
| | `telling`, `sexlinked` | of which gene a visual is; on which sex chromosome a gene sits |
| | `hatched`, `foretelling` | what hatched in a clutch; what is said of its looks before |
| | `compatibility`, `settling` | one gene or two, and which cross would settle it |
| | `records`, `trying` | what became of a source's statements |
| | `likelihood` | how likely the book is after a change: what explanations are compared by |
| `mating` | | many mates of one animal at once |
| | `mates`, `proofs` | what each pair gives, and what its clutch would prove of the animal |
| `plans` | | seasons to come, over whole families at once |
| | `gains` | goals over several loci: what all pairs give, the best pairs |
| | `forecasts`, `ways` | when a goal will be reached; which crosses lead there |
| | `trials` | what hatchlings with each mate would tell of an animal |
| `descent` | `lineage`, `health` | who sired what; founders, kinship, inbreeding of groups |
| | `parents`, `known`, `origins` | that pedigree, kept by its content; who brought a gene |
| `passing` | | what other books are told of an animal, and what they tell |
| | `evidence`, `labels` | the part of the book behind its figures, as cases that name nobody |
| | `arriving` | what such cases of another book say of an animal |
| | `crosses` | what crosses say of two lines, told and read |
| `workings` | | the grounds of a number |
| | `evidence`, `describing`, `questions` | what is weighed, its words, and the number |
| | `weighing` | each record weighed, and how the number came about day by day |
| | `telling_young` | how telling clean young are |
| | `doubting` | what a proof by a single look is worth |
| | `bought` | words on animals that were bought with it |
| | `clashing` | a number under dispute, without each record of it |
| | `workings`, `origins`, `relatives` | exact workings |
"""

from collections.abc import Iterable, Sequence
from fractions import Fraction

from keeper.domain.inference.descent.health import (
    Descent,
    Group,
    Numbered,
    effective_size,
    mean_kinships,
)
from keeper.domain.inference.descent.origins import Origins
from keeper.domain.inference.mating.mates import Mates, mates_of
from keeper.domain.inference.mating.proofs import Proof
from keeper.domain.inference.passing.arriving import (
    Allele,
    PartTold,
    Reproduced,
    Unusable,
    reproduced,
    told_by,
)
from keeper.domain.inference.passing.crosses import CrossesTold, read_report
from keeper.domain.inference.passing.crosses import report as cross_report
from keeper.domain.inference.passing.evidence import evidence
from keeper.domain.inference.plans.forecasts import (
    Basis,
    BreedingCourse,
    Outlook,
    Posed,
    answered,
    basis,
)
from keeper.domain.inference.plans.gains import (
    PairGains,
    PlannedPair,
    best_pairs,
    pair_gains,
)
from keeper.domain.inference.plans.trials import SETTLED, Suspect, Trial, trials
from keeper.domain.inference.plans.ways import MOST_AT_HAND, Way, WayParent, Ways, WayStep, ways
from keeper.domain.inference.questions import (
    compatibility,
    goals,
    pairs,
    settling,
)
from keeper.domain.inference.questions.asking import Unanswerable
from keeper.domain.inference.questions.compatibility import (
    BookCross,
    LinePair,
    LinePairs,
    PairEvidence,
    Whole,
)
from keeper.domain.inference.questions.family import kinships
from keeper.domain.inference.questions.foretelling import Foretelling, foretell, hatched_looks
from keeper.domain.inference.questions.goals import goal_chances, goal_never_seen
from keeper.domain.inference.questions.guests import Guest, GuestWord
from keeper.domain.inference.questions.hatched import hatch_counts
from keeper.domain.inference.questions.likelihood import Changed, Scale, Weight
from keeper.domain.inference.questions.parentage import sire_chances
from keeper.domain.inference.questions.records import SourceRecord, interval, source_record
from keeper.domain.inference.questions.seen_together import never_seen
from keeper.domain.inference.questions.settling import MOST as MOST_HATCHLINGS
from keeper.domain.inference.questions.settling import SURE, Forecast, Settling, SettlingCross
from keeper.domain.inference.questions.sexlinked import Seat, Seats, Share, sex_linked
from keeper.domain.inference.questions.telling import Reading, TellingMate, WhichGene, which_gene
from keeper.domain.inference.questions.trying import Outcome, Tried
from keeper.domain.inference.reading.looks import MISREAD, Source, misread
from keeper.domain.inference.reading.showed import Alike
from keeper.domain.inference.reading.statements import pair_prior
from keeper.domain.inference.results import (
    Copies,
    Course,
    DatedRecord,
    Day,
    Difference,
    GoalChance,
    Ground,
    Grounds,
    Look,
    Mixing,
    Pairing,
    WorkingStep,
)
from keeper.domain.inference.standings.keeping import (
    differences,
    recompute,
    refresh,
    solved_ahead,
    warm_up,
)
from keeper.domain.inference.standings.solving import (
    NoWorkers,
    Solver,
    Workers,
    workers_here,
    workers_of,
)
from keeper.domain.inference.standings.sources import row_of
from keeper.domain.inference.standings.whole import SolvedAhead, Told
from keeper.domain.inference.workings.describing import in_words, rows_of
from keeper.domain.inference.workings.doubting import if_misread
from keeper.domain.inference.workings.telling_young import how_telling
from keeper.domain.inference.workings.weighing import case_file, course, grounds
from keeper.models import (
    Animal,
    Clutch,
    Line,
    OpenPair,
    PairWord,
    Project,
    Trait,
)

EGGS = (1, 4, 8, 16)


def pairing(dam: Animal, sire: Animal | None, *, eggs: Sequence[int] = EGGS) -> Pairing:
    """What can be seen on the young of two animals, and what they may carry."""
    return pairs.pairing(dam, sire, eggs)


def clutch_looks(clutch: Clutch, *, eggs: Sequence[int] = EGGS) -> Pairing:
    """The same for a clutch, over all of its candidate sires; for its hatch day.

    Raises:
        ValueError: its dam is not recorded.
    """
    return pairs.clutch_looks(clutch, eggs)


def pair_goal(
    project: Project, dam: Animal, sire: Animal, *, eggs: Sequence[int] = EGGS[1:]
) -> GoalChance:
    """How likely a hatchling of the two meets the goal, its sex included if the goal names one."""
    return pair_goals(project, [(dam, sire)], eggs=eggs)[0]


def pair_goals(
    project: Project, pairs: Sequence[tuple[Animal, Animal]], *, eggs: Sequence[int] = EGGS[1:]
) -> list[GoalChance]:
    """The same of several pairs, female and male, at once."""
    return goals.pair_goals(project, pairs, eggs)


def line_pairs(trait: Trait) -> LinePairs:
    """One gene, two genes or open, with its chance, for every two lines of a look.

    Raises:
        Unanswerable: open pairs make it too large, or the register leaves nothing possible.
    """
    return compatibility.line_pairs(trait)


def lines_solved(trait: Trait) -> Whole:
    """All that bears on a look's lines, to ask both of the following about it.

    Raises:
        Unanswerable: open pairs make it too large, or the register leaves nothing possible.
    """
    return compatibility.whole(trait)


def pair_evidence(
    one: Line, other: Line, *, first: int | None = None, book: Whole | None = None
) -> PairEvidence:
    """How two lines of a look stand, and what each cross of the book says of it.

    Raises:
        Unanswerable: open pairs make it too large, or the register leaves nothing possible.
    """
    return compatibility.pair_evidence(one, other, first=first, book=book)


def prior_of(pair: OpenPair, words: Iterable[PairWord]) -> Fraction:
    """How likely an open pair is one gene by the keeper's view and these words on it."""
    return pair_prior(pair, words)


def best_crosses(
    one: Line,
    other: Line,
    *,
    females: Sequence[Animal],
    males: Sequence[Animal],
    book: Whole | None = None,
) -> Settling:
    """Which pairs of these animals would best settle whether two lines are one gene.

    Raises:
        Unanswerable: it is too large to be worked out.
    """
    return settling.best_crosses(one, other, females=females, males=males, book=book)


__all__ = [
    "MISREAD",
    "MOST_AT_HAND",
    "MOST_HATCHLINGS",
    "SETTLED",
    "SURE",
    "Alike",
    "Allele",
    "Basis",
    "BookCross",
    "BreedingCourse",
    "Changed",
    "Copies",
    "Course",
    "CrossesTold",
    "DatedRecord",
    "Day",
    "Descent",
    "Difference",
    "Forecast",
    "Foretelling",
    "GoalChance",
    "Ground",
    "Grounds",
    "Group",
    "Guest",
    "GuestWord",
    "LinePair",
    "LinePairs",
    "Look",
    "Mates",
    "Mixing",
    "NoWorkers",
    "Numbered",
    "Origins",
    "Outcome",
    "Outlook",
    "PairEvidence",
    "PairGains",
    "Pairing",
    "PartTold",
    "PlannedPair",
    "Posed",
    "Proof",
    "Reading",
    "Reproduced",
    "Scale",
    "Seat",
    "Seats",
    "Settling",
    "SettlingCross",
    "Share",
    "SolvedAhead",
    "Solver",
    "Source",
    "SourceRecord",
    "Suspect",
    "TellingMate",
    "Told",
    "Trial",
    "Tried",
    "Unanswerable",
    "Unusable",
    "Way",
    "WayParent",
    "WayStep",
    "Ways",
    "Weight",
    "WhichGene",
    "Whole",
    "Workers",
    "WorkingStep",
    "answered",
    "basis",
    "best_crosses",
    "best_pairs",
    "case_file",
    "clutch_looks",
    "course",
    "cross_report",
    "differences",
    "effective_size",
    "evidence",
    "foretell",
    "goal_chances",
    "goal_never_seen",
    "grounds",
    "hatch_counts",
    "hatched_looks",
    "how_telling",
    "if_misread",
    "in_words",
    "interval",
    "kinships",
    "line_pairs",
    "lines_solved",
    "mates_of",
    "mean_kinships",
    "misread",
    "never_seen",
    "pair_evidence",
    "pair_gains",
    "pair_goal",
    "pair_goals",
    "pairing",
    "prior_of",
    "read_report",
    "recompute",
    "refresh",
    "reproduced",
    "row_of",
    "rows_of",
    "sex_linked",
    "sire_chances",
    "solved_ahead",
    "source_record",
    "told_by",
    "trials",
    "warm_up",
    "ways",
    "which_gene",
    "workers_here",
    "workers_of",
]
