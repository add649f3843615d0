"""The rivals: a general-purpose library's exact inference on the same pedigrees.

Both are built here as favourably as we know how: variables added with their numbers given (without
a number each addition costs a search over all), arcs and factors added inside one transformation,
tables filled from cached arrays in one copy, only the recorded animals as targets.
"""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from functools import cache
from importlib import import_module
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.pedigrees import BACKGROUND, HET, POSSIBLE_HET, VISUAL, Pedigree


def _library() -> Any:
    """The library, untyped: its annotations would not pass a strict checker.

    Its extension modules warn while they load and crash the interpreter if that is an error; the
    second one loads with the first Markov random field.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        library: Any = import_module("pyagrum")
        library.ShaferShenoyMRFInference(library.MarkovRandomField())
    return library


gum = _library()

Floats = NDArray[np.float64]
#: Likelihood of the genotypes of an animal that did not show the look.
UNSEEN = [1.0, 1.0, 0.0]
#: A factor: the numbers of its variables, and its table with one axis each in that order.
Factor = tuple[tuple[int, ...], Floats]


def mendel() -> Floats:
    """P(mutant copies of the young | of the dam, of the sire) as an array [dam, sire, young]."""
    gamete = np.array([[1.0, 0.0], [0.5, 0.5], [0.0, 1.0]])
    table = np.zeros((3, 3, 3))
    for from_dam in (0, 1):
        for from_sire in (0, 1):
            table[:, :, from_dam + from_sire] += np.outer(gamete[:, from_dam], gamete[:, from_sire])
    return table


def founder_prior(papers: int, background: float) -> Floats:
    """P(mutant copies) of a founder with these papers."""
    wild = 1 - background
    return np.array(
        {
            BACKGROUND: [wild**2, 2 * wild * background, background**2],
            VISUAL: [0, 0, 1],
            HET: [0, 1, 0],
            POSSIBLE_HET: [1 / 3, 2 / 3, 0],
        }[papers],
        dtype=float,
    )


@cache
def _tally_table(seen: bool, count: int) -> Floats:
    """P(this line | couple), axes [sire, dam, (line, anything else)] as the library wants them."""
    visual = mendel()[:, :, 2]
    line = (visual if seen else 1 - visual) ** count
    return np.ascontiguousarray(np.stack([line, 1 - line], axis=2).transpose(1, 0, 2))


class PlainNetwork:
    """Rival 1: the pedigree as a plain Bayesian network at one locus, Shafer-Shenoy.

    One node an animal (three genotypes, its parents as parents) and one two-valued node a tally
    line (the couple as parents, its table the chance of the whole line), which is smaller and
    faster than one node a tallied hatchling (``tallies="nodes"``). What was seen, and founders
    whose papers leave one genotype, are evidence on the animal's own node. Leaves stay: their
    posteriors are asked for.

    Cutting at known founders is a favour to the rival: it narrows its cliques, and it keeps the
    products in range, which the library does not rescale (10,000 connected animals underflow).

    With `plainly` the net is built as the library's guide does it, node after node, its ids its
    own: the building then costs several times the inference, as first measured. Without, ids are
    given and the changes announced as one, which no guide says.
    """

    def __init__(
        self, pedigree: Pedigree, locus: int = 0, *, tallies: str = "lines", plainly: bool = False
    ) -> None:
        self.animals = pedigree.animals
        self._plainly = plainly
        self.net = gum.BayesNet()
        self._evidence: dict[int, int | list[float]] = {}
        lines = _tally_lines(pedigree, locus, tallies)
        self._add_structure(pedigree, lines, 2 if tallies == "lines" else 3)
        self._fill_animals(pedigree, locus)
        young = np.ascontiguousarray(mendel().transpose(1, 0, 2))
        for node, (_, _, seen, count) in enumerate(lines, start=self.animals):
            if tallies == "lines":
                self.net.cpt(node).fillWith(_tally_table(seen, count))
                self._evidence[node] = 0
            else:
                self.net.cpt(node).fillWith(young)
                self._evidence[node] = 2 if seen else UNSEEN

    def _add_structure(
        self, pedigree: Pedigree, lines: list[tuple[int, int, bool, int]], line_values: int
    ) -> None:
        net = self.net
        if not self._plainly:
            net.beginTopologyTransformation()
        variable = gum.RangeVariable("v", "", 0, 2)
        for node in range(self.animals):
            variable.setName(str(node))
            self._add(variable, node)
        variable = gum.RangeVariable("v", "", 0, line_values - 1)
        for node in range(self.animals, self.animals + len(lines)):
            variable.setName(str(node))
            self._add(variable, node)
        for node, (dam, sire) in enumerate(
            zip(pedigree.dam.tolist(), pedigree.sire.tolist(), strict=True)
        ):
            if dam >= 0:
                net.addArc(dam, node)
                net.addArc(sire, node)
        for node, (dam, sire, _, _) in enumerate(lines, start=self.animals):
            net.addArc(dam, node)
            net.addArc(sire, node)
        if not self._plainly:
            net.endTopologyTransformation()

    def _add(self, variable: Any, node: int) -> None:
        if self._plainly:
            self.net.add(variable)
        else:
            self.net.add(variable, node)

    def _fill_animals(self, pedigree: Pedigree, locus: int) -> None:
        priors = {
            papers: founder_prior(papers, pedigree.background)
            for papers in (BACKGROUND, VISUAL, HET, POSSIBLE_HET)
        }
        young = np.ascontiguousarray(mendel().transpose(1, 0, 2))
        papers_of, looks = pedigree.papers[:, locus].tolist(), pedigree.looks[:, locus].tolist()
        for node, founder in enumerate(pedigree.founders.tolist()):
            if not founder:
                self.net.cpt(node).fillWith(young)
                self._evidence[node] = 2 if looks[node] else UNSEEN
                continue
            prior = priors[papers_of[node]]
            self.net.cpt(node).fillWith(prior)
            if prior.max() == 1:
                self._evidence[node] = int(prior.argmax())

    def posteriors(self) -> Floats:
        """P(mutant copies | everything) of each recorded animal, (animals, 3)."""
        inference = gum.ShaferShenoyInference(self.net)
        for node, evidence in self._evidence.items():
            inference.addEvidence(node, evidence)
        inference.setTargets(set(range(self.animals)))
        inference.makeInference()
        self.inference = inference
        return np.array([inference.posterior(node).toarray() for node in range(self.animals)])

    def largest_clique(self) -> int:
        """Number of animals and lines in the largest clique of the last inference."""
        tree = self.inference.junctionTree()
        return max(len(tree.clique(node)) for node in tree.nodes())


def _tally_lines(pedigree: Pedigree, locus: int, tallies: str) -> list[tuple[int, int, bool, int]]:
    """(dam, sire, seen, count) of each tally line at one locus, lines of equal look joined."""
    counts: dict[tuple[int, bool], int] = {}
    seen = pedigree.tally_looks[:, locus].tolist()
    rows = zip(pedigree.tally_clutch.tolist(), seen, pedigree.tally_count.tolist(), strict=True)
    for clutch, look, count in rows:
        counts[clutch, look] = counts.get((clutch, look), 0) + count
    lines = []
    for (clutch, look), count in counts.items():
        dam, sire = int(pedigree.clutch_dam[clutch]), int(pedigree.clutch_sire[clutch])
        lines += (
            [(dam, sire, look, count)] if tallies == "lines" else [(dam, sire, look, 1)] * count
        )
    return lines


class MarkovField:
    """Rival 2: the library's Markov random field on any factor graph, Shafer-Shenoy.

    ``cards[i]`` is the number of values of variable i. Factors over the same variables are
    multiplied beforehand, because the library keeps one factor a set of variables.
    """

    def __init__(self, cards: Sequence[int], factors: Sequence[Factor]) -> None:
        self.variables = len(cards)
        self.net = gum.MarkovRandomField()
        tables = _joined(factors)
        self.net.beginTopologyTransformation()
        for number, card in enumerate(cards):
            self.net.add(gum.RangeVariable(str(number), "", 0, card - 1), number)
        for scope in tables:
            self.net.addFactor(list(scope))
        self.net.endTopologyTransformation()
        for scope, table in tables.items():
            self.net.factor(set(scope)).fillWith(np.ascontiguousarray(table.T))

    def posteriors(self) -> list[Floats]:
        """The marginal distribution of each variable."""
        inference = gum.ShaferShenoyMRFInference(self.net)
        inference.makeInference()
        return [inference.posterior(number).toarray() for number in range(self.variables)]


def _joined(factors: Sequence[Factor]) -> dict[tuple[int, ...], Floats]:
    tables: dict[tuple[int, ...], Floats] = {}
    for scope, table in factors:
        order = np.argsort(scope)
        key = tuple(scope[axis] for axis in order)
        turned = np.transpose(np.asarray(table, dtype=float), order)
        tables[key] = tables[key] * turned if key in tables else turned
    return tables
