"""The modules of loops as what they promise; a checker of types compares the two here."""

from __future__ import annotations

from genetics.kernels import elimination, family, tree
from genetics.kernels.protocols import EliminationLoops, FamilyLoops, TreeLoops

ELIMINATION: EliminationLoops = elimination
FAMILY: FamilyLoops = family
TREE: TreeLoops = tree
