"""What may be wrong where records cannot all be true: explanations with their odds.

Each explanation is a change of the book. It is tried on, the book is weighed as it then stands,
and the change is taken back; to adopt it is to make the same change for good, as one entry of the
daybook that can be undone. Odds are the engine's: how often such a thing happens (`rates`) times
how likely the records are if it did, over all explanations that are listed.

| file | holds |
|---|---|
| `rates` | how often each kind of thing happens, and on what ground |
| `clusters` | open disputes that share records, and what those records are about |
| `changes` | what each explanation changes in the book |
| `candidates`, `kin` | which explanations there may be, and whom they may be about |
| `search` | trying them on, alone and several of them |
| `together` | their odds, with those of disputes that one mistake may be behind as well |
| `keeping` | what was worked out, kept while the book stays as it is |
| `odds` | explanations with their odds, previews, adoption |
"""

from keeper.domain.explaining.clusters import DisputeCluster, cluster_of, clusters
from keeper.domain.explaining.odds import Weighed, adopt, explained, look_ahead
from keeper.domain.explaining.rates import COMMON, Kind, Rate, rates

__all__ = [
    "COMMON",
    "DisputeCluster",
    "Kind",
    "Rate",
    "Weighed",
    "adopt",
    "cluster_of",
    "clusters",
    "explained",
    "look_ahead",
    "rates",
]  # fmt: skip
