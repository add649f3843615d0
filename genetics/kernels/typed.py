"""The modules of loops as what they promise; a checker of types compares the two here."""

from __future__ import annotations

from genetics.kernels import elimination, family, forecast, tree
from genetics.kernels.protocols import EliminationLoops, FamilyLoops, ForecastLoops, TreeLoops

ELIMINATION: EliminationLoops = elimination
FAMILY: FamilyLoops = family
TREE: TreeLoops = tree
FORECAST: ForecastLoops = forecast
