"""Writing computed standings: only what differs, and with the change that it is."""

import hashlib
import json
from collections.abc import Iterator

from django.db.models import Q

from keeper import models as m
from keeper.domain.inference.reading.counted import counting, traits_of
from keeper.domain.inference.reading.engine_book import Source, row_of
from keeper.domain.inference.reading.inheritance import Inheritance
from keeper.domain.inference.reading.rows import named
from keeper.domain.inference.results import Difference
from keeper.domain.inference.standings.computing import Computed, Recomputed
from keeper.domain.inference.standings.copies import Whose
from keeper.domain.inference.standings.disputes import Conflict
from keeper.domain.saying.figures import percent
from keeper.models import DaybookEntry, Dispute, Standing, StandingChange

# Two computations of one number may differ by rounding in the last places; a stored figure is
# only written anew when it differs by more.
SAME = 1e-9


def store(part: Recomputed, species: m.Species, entry: DaybookEntry) -> None:
    """Bring the stored standings of a part of the book in line with what was computed."""
    disputes = _disputes(part, species, entry)
    stored = dict(_stored(part))
    fresh: list[Standing] = []
    changed: list[Standing] = []
    changes: list[StandingChange] = []
    for whose, computed in part.standings.items():
        old = stored.pop(whose, None)
        dispute = disputes[computed.conflict] if computed.conflict else None
        new = _standing(whose, computed, dispute, entry)
        if old is None:
            if computed.figure.none == 1.0 and dispute is None:
                continue
            fresh.append(new)
        elif same(old, new):
            continue
        else:
            new.pk = old.pk
            changed.append(new)
        if _moved(old, new):
            changes.append(_change(old, new))
    gone = list(stored.values())
    changes += [_change(old, None, entry) for old in gone]
    Standing.objects.filter(pk__in=[one.pk for one in gone]).delete()
    Standing.objects.bulk_create(fresh, batch_size=500)
    # As an insert that meets its own row: a bulk update builds a case for each row and column,
    # which takes seconds where hundreds moved.
    Standing.objects.bulk_create(
        changed, batch_size=500, update_conflicts=True, unique_fields=["pk"], update_fields=_COLUMNS
    )
    StandingChange.objects.bulk_create(changes, batch_size=500)
    _close(part, species, entry, {one.pk for one in disputes.values()})


_COLUMNS = [
    "two", "one", "none", "error", "mixed", "customary", "word", "clean_young", "dispute", "entry",
]  # fmt: skip


def _stored(part: Recomputed) -> Iterator[tuple[Whose, Standing]]:
    """The standings that a part replaces: of its animals, and of those who left."""
    mine: dict[int, set[int]] = {}
    for group, animals in part.scope.items():
        mine |= dict.fromkeys(group.traits, animals | (part.leaving - part.carriers[group]))
    everyone = set().union(*mine.values())
    # The animals alone name the rows: a database might rather go through all of a trait's.
    for one in named(Standing.objects.all(), "animal", everyone):
        if one.animal_id in mine.get(one.trait_id, ()):
            yield (one.animal_id, one.trait_id, one.line_id), one


def _standing(
    whose: Whose, one: Computed, dispute: Dispute | None, entry: DaybookEntry
) -> Standing:
    animal, trait, line = whose
    return Standing(
        animal_id=animal, trait_id=trait, line_id=line,
        two=one.figure.two, one=one.figure.one, none=one.figure.none, error=one.figure.error,
        mixed=one.figure.mixed, customary=one.customary, word=one.word, clean_young=one.clean_young,
        dispute=dispute, entry=entry,
    )  # fmt: skip


def same(old: Standing, new: Standing) -> bool:
    """Whether two rows say the same, up to rounding; certainty must be the same exactly."""
    figures = [(old.two, new.two), (old.one, new.one), (old.none, new.none), (old.error, new.error)]
    figures.append((old.mixed, new.mixed))
    figures.append((_or_less(old.customary), _or_less(new.customary)))
    return all(abs(a - b) <= SAME and (a == 0) == (b == 0) for a, b in figures) and (
        old.word,
        old.clean_young,
        old.dispute_id,
    ) == (new.word, new.clean_young, new.dispute_id)


def _or_less(figure: float | None) -> float:
    return -1.0 if figure is None else figure


def _moved(old: Standing | None, new: Standing) -> bool:
    """Whether a reader would see the difference."""
    if old is None:
        return True
    return _shown(old) != _shown(new)


def _shown(one: Standing) -> tuple[str, str, str, bool]:
    carries = percent(one.carries, certain=one.none == 0)
    return one.word, carries, percent(one.two, certain=one.two == 1), one.dispute_id is not None


def _change(
    old: Standing | None, new: Standing | None, entry: DaybookEntry | None = None
) -> StandingChange:
    one = new or old
    assert one is not None
    return StandingChange(
        entry=new.entry if new else entry,
        animal_id=one.animal_id, trait_id=one.trait_id, line_id=one.line_id,
        word_before=old.word if old else "",
        two_before=old.two if old else None,
        none_before=old.none if old else None,
        disputed_before=bool(old and old.is_disputed),
        word=new.word if new else m.Word.ABSENT,
        two=new.two if new else 0.0,
        none=new.none if new else 1.0,
        disputed=bool(new and new.is_disputed),
    )  # fmt: skip


def _disputes(
    part: Recomputed, species: m.Species, entry: DaybookEntry
) -> dict[Conflict | None, Dispute]:
    """The open dispute of each conflict, opened if it is new."""
    found: dict[Conflict | None, Dispute] = {}
    for conflict in part.conflicts:
        print_ = _fingerprint(conflict)
        found[conflict], _ = Dispute.objects.get_or_create(
            fingerprint=print_,
            closed=None,
            defaults={
                "species": species,
                "conflict": [_record(source) for source in conflict.sources],
                "opened": entry,
            },
        )
    return found


def _fingerprint(conflict: Conflict) -> str:
    return hashlib.sha256(json.dumps(conflict.sources).encode()).hexdigest()


def _record(source: Source) -> dict[str, object]:
    kind, pk = source
    return {"model": kind, "pk": pk, "text": str(row_of(source))}


def _close(part: Recomputed, species: m.Species, entry: DaybookEntry, still: set[int]) -> None:
    """Close the disputes that lay within this part, or lost a record, and were not found again."""
    others = list(Dispute.objects.filter(species=species, closed=None).exclude(pk__in=still))
    named = {one.pk: {(str(r["model"]), int(r["pk"])) for r in one.conflict} for one in others}
    count = counting(source for records in named.values() for source in records)
    # Parents that were taken out count for nothing, though their animal or clutch is there.
    evidence = {
        pk: {one for one in records & count if one[0] not in {"animal", "clutch"}}
        for pk, records in named.items()
    }
    traits = traits_of(set().union(*evidence.values()))
    here = {pk for book in part.books for group in book.groups for pk in group.traits}
    closing = []
    for pk, records in named.items():
        # The row of a hatch is looked at for many traits, each in a part of the book of its own.
        spoken = all(traits[one] & here for one in evidence[pk] if traits[one])
        within = records & count <= part.sources or (evidence[pk] and evidence[pk] <= part.sources)
        # Without any one of them the others can be true: that is what makes the set a smallest one.
        if records & count < records or (within and spoken):
            closing.append(pk)
    if closing:
        Dispute.objects.filter(pk__in=closing).update(closed=entry)


def clear_orphans(inheritance: Inheritance, entry: DaybookEntry) -> None:
    """Take away the standings of traits and lines that are no longer in the register."""
    gone = list(
        Standing.objects.filter(trait__species=inheritance.species).exclude(
            Q(line=None) | Q(line__in=list(inheritance.lines)),
            trait__in=[one.pk for one in inheritance.shown_traits],
        )
    )
    StandingChange.objects.bulk_create([_change(one, None, entry) for one in gone])
    Standing.objects.filter(pk__in=[one.pk for one in gone]).delete()


def stored_otherwise(part: Recomputed, species: m.Species) -> list[Difference]:
    """Compare what a whole species computes with what is stored."""
    stored = {
        (one.animal_id, one.trait_id, one.line_id): one
        for one in Standing.objects.filter(animal__species=species).select_related("dispute")
    }
    found = []
    for whose, computed in part.standings.items():
        old = stored.pop(whose, None)
        if old is None and computed.figure.none == 1.0 and computed.conflict is None:
            continue
        if old is None or not _agrees(old, computed):
            found.append(_difference(whose, old, computed))
    return found + [_difference(whose, old, None) for whose, old in stored.items()]


def _agrees(old: Standing, computed: Computed) -> bool:
    whose = (old.animal_id, old.trait_id, old.line_id)
    new = _standing(whose, computed, None, old.entry)
    print_ = _fingerprint(computed.conflict) if computed.conflict else None
    kept = old.dispute.fingerprint if old.dispute else None
    new.dispute_id = old.dispute_id
    return print_ == kept and same(old, new)


def _difference(whose: Whose, old: Standing | None, computed: Computed | None) -> Difference:
    animal, trait, line = whose
    names = (
        str(m.Animal.objects.get(pk=animal)),
        str(m.Trait.objects.get(pk=trait)),
        None if line is None else str(m.Line.objects.get(pk=line)),
    )
    stored = f"{old.word} {old.two!r} {old.one!r} {old.none!r}" if old else "nothing"
    now = "nothing"
    if computed is not None:
        one = computed.figure
        now = f"{computed.word} {one.two!r} {one.one!r} {one.none!r}"
    return Difference(*names, stored, now)
