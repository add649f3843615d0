"""What was worked out for a dispute is kept while the book stays as it is."""

from typing import Any

from django.core.cache import cache

from keeper.discretion import sees_people
from keeper.domain.book.daybook import moment
from keeper.domain.explaining.clusters import DisputeCluster


def kept(what: str, cluster: DisputeCluster) -> Any:
    """Return what was kept for the state of the book as it is now; None: nothing."""
    return cache.get(_name(what, cluster))


def keep(what: str, cluster: DisputeCluster, found: Any) -> None:
    """Keep it for the state of the book as it is now."""
    cache.set(_name(what, cluster), found)


def _name(what: str, cluster: DisputeCluster) -> str:
    # Explanations name whose word may be wrong, for those who may know.
    whom = "named" if sees_people() else "unnamed"
    return f"{what}:{whom}:{moment()}:{'-'.join(str(one.pk) for one in cluster.disputes)}"
