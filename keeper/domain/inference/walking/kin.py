"""Who is around whom, found by the database itself: one question, however far the way is.

A walk that asks at each of its steps asks as often as its way is long, which grows with the book.
What is found here may be more than what bears on an answer, never less: whoever reads it decides
by the rows themselves.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from typing import NamedTuple

from django.db import connection

from keeper import models as m
from keeper.domain.inference.reading.inheritance import Inheritance, LocusGroup
from keeper.domain.inference.reading.rows import Rows

_ANIMAL = m.Animal._meta.db_table
_CLUTCH = m.Clutch._meta.db_table
_CANDIDATE = m.CandidateSire._meta.db_table
_STANDING = m.Standing._meta.db_table


class _Step(NamedTuple):
    """From a node `r.node` to others: which, in what table, and what ties them.

    A node is the id of an animal, or that of a clutch below zero.
    """

    node: str
    table: str
    tie: str


_UP = (
    _Step("-a.clutch_id", f"{_ANIMAL} a", "a.id = r.node AND a.clutch_id IS NOT NULL"),
    _Step("a.dam_id", f"{_ANIMAL} a", "a.id = r.node AND a.dam_id IS NOT NULL"),
    _Step("a.sire_id", f"{_ANIMAL} a", "a.id = r.node AND a.sire_id IS NOT NULL"),
    _Step("c.dam_id", f"{_CLUTCH} c", "c.id = -r.node AND c.dam_id IS NOT NULL"),
    _Step("s.sire_id", f"{_CANDIDATE} s", "s.clutch_id = -r.node AND s.sire_id IS NOT NULL"),
)
_BRED = (
    f"(EXISTS (SELECT 1 FROM {_CLUTCH} c WHERE c.dam_id = a.id)"
    f" OR EXISTS (SELECT 1 FROM {_CANDIDATE} s WHERE s.sire_id = a.id)"
    f" OR EXISTS (SELECT 1 FROM {_ANIMAL} y WHERE y.dam_id = a.id)"
    f" OR EXISTS (SELECT 1 FROM {_ANIMAL} y WHERE y.sire_id = a.id))"
)
_BELOW = (
    _Step("-c.id", f"{_CLUTCH} c", "c.dam_id = r.node"),
    _Step("-s.clutch_id", f"{_CANDIDATE} s", "s.sire_id = r.node"),
    _Step("a.id", f"{_ANIMAL} a", f"a.clutch_id = -r.node AND {_BRED}"),
    _Step("a.id", f"{_ANIMAL} a", "a.dam_id = r.node"),
    _Step("a.id", f"{_ANIMAL} a", "a.sire_id = r.node"),
)
_DOWN = (
    *_BELOW,
    _Step("a.sire_id", f"{_ANIMAL} a", "a.dam_id = r.node AND a.sire_id IS NOT NULL"),
    _Step("a.dam_id", f"{_ANIMAL} a", "a.sire_id = r.node AND a.dam_id IS NOT NULL"),
)

# Whether an animal may be uncertain in a part: some copies of a line are, or, where a genotype is
# more than its copies, there are any. The plus signs keep SQLite from looking among all that carry
# the trait instead of among what one animal carries.
_DOUBT = (
    f"CASE WHEN EXISTS (SELECT 1 FROM {_STANDING} d JOIN said t ON t.trait = +d.trait_id"
    " WHERE d.animal_id = {node} AND t.part = r.part AND +d.line_id IS NOT NULL AND (t.wide = 1"
    " OR NOT (d.two IN (0, 1) AND d.one IN (0, 1) AND d.none IN (0, 1)))) THEN 1 ELSE 0 END"
)


# Kin of a few records who are more than these are the book's large family.
_MANY = 1000


@dataclass
class Around:
    """Who and what is around some animals.

    Attributes:
        breeders: the animals, and everyone met who has young.
        doubtful: those of them beyond whom the way goes on.
        clutches: the clutches between them, for each group of loci.
    """

    breeders: set[int] = field(default_factory=set)
    doubtful: set[int] = field(default_factory=set)
    clutches: dict[LocusGroup, set[int]] = field(default_factory=lambda: defaultdict(set))

    @property
    def every_clutch(self) -> set[int]:
        """The clutches of all groups."""
        return set().union(*self.clutches.values())


def around(
    inheritance: Inheritance, groups: Iterable[LocusGroup], animals: Collection[int]
) -> Around:
    """Find who is around some animals in some groups of loci, up to those who are certain."""
    parts = list(groups)
    found = Around()
    if not parts or not animals:
        return found
    said = [
        (part, trait, int(not _by_copies(inheritance, group)))
        for part, group in enumerate(parts)
        for trait in group.traits
    ]
    for part, node, doubt in _fetched(_around(len(said), len(animals)), said, animals):
        if node < 0:
            found.clutches[parts[part]].add(-node)
        else:
            found.breeders.add(node)
            if doubt:
                found.doubtful.add(node)
    return found


def _by_copies(inheritance: Inheritance, group: LocusGroup) -> bool:
    """Whether the copies of each line are all there is to a genotype of the group."""
    seats = {inheritance.loci[pk].chromosome for pk in group.loci}
    return len(group.loci) == 1 and seats == {m.Chromosome.AUTOSOME}


def ancestry(animals: Collection[int]) -> tuple[set[int], set[int]]:
    """Find some animals with all who may be ancestors of theirs, and the clutches between."""
    if not animals:
        return set(), set()
    nodes = {node for (node,) in _fetched(_ancestry(len(animals)), (), animals)}
    return {node for node in nodes if node > 0}, {-node for node in nodes if node < 0}


def descent(animals: Collection[int], most: int) -> tuple[set[int], set[int]]:
    """Find some animals with all who may descend from them and have young, and the clutches.

    Where they are more than `most` some are missing.
    """
    if not animals:
        return set(), set()
    first = f"reach(node) AS (SELECT * FROM (VALUES {_listed(len(animals), 1)}) AS begun"
    query = _recursive(first, [(one.node, one.table, one.tie) for one in _BELOW], given="")
    nodes = {node for (node,) in _fetched(f"{query} LIMIT {2 * most}", (), animals)}
    return {node for node in nodes if node > 0}, {-node for node in nodes if node < 0}


def relatives(nodes: Collection[tuple[int, int]]) -> dict[int, set[int]] | None:
    """Find everyone and every clutch tied to some nodes, by the number that each comes with.

    Whatever they carry, up to all of their kin; of animals without young only their clutches are
    found. None: they are too many to be looked through.
    """
    if not nodes:
        return {}
    first = f"reach(part, node) AS (SELECT * FROM (VALUES {_listed(len(nodes), 2)}) AS begun"
    steps = [(f"r.part, {one.node}", one.table, one.tie) for one in (*_UP, *_DOWN)]
    query = f"{_recursive(first, steps, given='')} LIMIT {_MANY}"
    found: dict[int, set[int]] = defaultdict(set)
    rows = _fetched(query, nodes, ())
    for part, node in rows:
        found[part].add(node)
    return found if len(rows) < _MANY else None


def _around(said: int, animals: int) -> str:
    given = (
        f"said(part, trait, wide) AS (VALUES {_listed(said, 3)}), "
        f"begun(node) AS (VALUES {_listed(animals, 1)})"
    )
    first = (
        f"SELECT r.part, r.node, {_DOUBT.format(node='r.node')} "
        "FROM (SELECT DISTINCT t.part, b.node FROM said t CROSS JOIN begun b) r"
    )
    steps = [
        (f"r.part, {one.node}, {_doubt_of(one)}", one.table, f"r.doubt = 1 AND {one.tie}")
        for one in (*_UP, *_DOWN)
    ]
    return _recursive(f"reach(part, node, doubt) AS ({first}", steps, given=f"{given}, ")


def _doubt_of(step: _Step) -> str:
    """Whether the way goes on behind a step's end: behind a clutch it always does."""
    return "1" if step.node.startswith("-") else _DOUBT.format(node=step.node)


def _ancestry(animals: int) -> str:
    first = f"reach(node) AS (SELECT * FROM (VALUES {_listed(animals, 1)}) AS begun"
    return _recursive(first, [(one.node, one.table, one.tie) for one in _UP], given="")


def _recursive(first: str, steps: Iterable[tuple[str, str, str]], *, given: str) -> str:
    """Put a walk together: what it takes of each table by which tie, from where it begins.

    SQLite lets each step be a part of the union; PostgreSQL wants all of them in one.
    """
    if connection.vendor == "sqlite":
        onwards = "".join(
            f" UNION SELECT {node} FROM reach r CROSS JOIN {table} ON {tie}"
            for node, table, tie in steps
        )
    else:
        every = " UNION ALL ".join(
            f"SELECT {node} FROM {table} WHERE {tie}" for node, table, tie in steps
        )
        onwards = f" UNION SELECT n.* FROM reach r CROSS JOIN LATERAL ({every}) n"
    return f"WITH RECURSIVE {given}{first}{onwards}) SELECT * FROM reach"


def _listed(rows: int, columns: int) -> str:
    one = ", ".join(["CAST(%s AS bigint)"] * columns)
    return ", ".join([f"({one})"] * rows)


def _fetched(
    query: str, said: Iterable[tuple[int, ...]], animals: Iterable[int]
) -> list[tuple[int, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(query, [*(value for row in said for value in row), *animals])
        rows: list[tuple[int, ...]] = cursor.fetchall()
    return rows


def ancestors(rows: Rows, animal: int) -> set[int]:
    """All who may be ancestors of an animal; say first whose will be asked (`with_ancestors`)."""
    found, ahead = set[int](), [animal]
    while ahead:
        above = rows.parents(rows.animals[ahead.pop()]) - found
        found |= above
        ahead += above
    return found
