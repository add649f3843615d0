"""The combinations that show a trait: so many copies of some lines, all of them together."""

from collections import defaultdict
from collections.abc import Sequence

from keeper import models as m
from keeper.domain.inference.reading.prepared import Prepared


def meets(dose: str, copies: Sequence[int | None], among: frozenset[int]) -> bool:
    """Whether the copies at a locus have a dose of some lines."""
    count = sum(line in among for line in copies)
    if dose == m.Dose.EVERY:
        return count == len(copies)
    if dose == m.Dose.SINGLE:
        return count == 1 and len(copies) == 2
    return count > 0 if dose == m.Dose.ANY else count == 0


def combinations(
    lines: dict[int, m.Line],
) -> dict[int, list[list[tuple[str, frozenset[int]]]]]:
    """The combinations of each trait: lists of (dose, line ids)."""
    among: dict[int, set[int]] = defaultdict(set)
    for condition, line in _AMONG.rows(lines):
        among[condition].add(line)
    if not among:
        return {}
    parts: dict[int, list[tuple[str, frozenset[int]]]] = defaultdict(list)
    found: dict[int, list[list[tuple[str, frozenset[int]]]]] = defaultdict(list)
    owner: dict[int, int] = {}
    for one in m.Condition.objects.live().filter(showing__withdrawn_at=None).order_by("pk"):
        if among[one.pk]:
            parts[one.showing_id].append((one.dose, frozenset(among[one.pk])))
    for showing, trait in m.Showing.objects.filter(pk__in=parts).values_list("pk", "trait_id"):
        owner[showing] = trait
    for showing, listed in parts.items():
        found[owner[showing]].append(listed)
    return dict(found)


_AMONG = Prepared(
    lambda pks: m.Condition.lines.through.objects.filter(line__in=pks).values_list(
        "condition_id", "line_id"
    )
)
