"""What is read of the register of a species, by the ids of the species, its loci or its lines."""

from keeper import models as m
from keeper.domain.inference.reading.prepared import Prepared, PreparedRecords

LOCI = PreparedRecords(
    m.Locus, lambda pks: m.Locus.objects.live().filter(species__in=pks).order_by("pk")
)
LINES = PreparedRecords(
    m.Line, lambda pks: m.Line.objects.live().filter(locus__in=pks).order_by("locus_id", "pk")
)
TRAITS = PreparedRecords(
    m.Trait, lambda pks: m.Trait.objects.live().filter(species__in=pks).order_by("name")
)
HIDES = Prepared(
    lambda pks: m.Trait.hides.through.objects.filter(
        from_trait__in=pks, to_trait__in=pks
    ).values_list("from_trait_id", "to_trait_id")
)
INTERVALS = PreparedRecords(
    m.Interval,
    lambda pks: m.Interval.objects.live().filter(left__in=pks, right__in=pks).order_by("pk"),
)
SURVIVALS = PreparedRecords(
    m.Survival, lambda pks: m.Survival.objects.live().filter(locus__in=pks).order_by("pk")
)
OPEN_PAIRS = PreparedRecords(
    m.OpenPair,
    lambda pks: m.OpenPair.objects.live().filter(one__in=pks, other__in=pks).order_by("pk"),
)
# The parts of named looks, each a trait, and the lines to which a part of a look is narrowed.
LOOK_PARTS = Prepared(
    lambda pks: (
        m.LookPart.objects.live()
        .filter(look__species__in=pks, look__withdrawn_at=None)
        .order_by("pk")
        .values_list("pk", "look_id", "trait_id")
    )
)
LOOK_LINES = Prepared(
    lambda pks: m.LookPart.lines.through.objects.filter(lookpart__in=pks).values_list(
        "lookpart_id", "line_id"
    )
)
# When each trait is looked for, and at what age it can be told.
TOLD = Prepared(
    lambda pks: (
        m.Trait.objects.live()
        .filter(species__in=pks)
        .values_list("pk", "looked_for_since", "told_from", "told_until")
    )
)
