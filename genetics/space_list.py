"""Which state spaces the loci of a population need, and whether these are too large to make."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import partial

from genetics.checks import listed
from genetics.errors import BeyondExact
from genetics.population import Locus, Population, Retained
from genetics.spaces import (
    Space,
    autosomal_space,
    count_states,
    merged_space,
    sex_space,
    single_space,
    survivals,
)

MOST_LISTED = 40_000
"""Genotypes of loci that are solved together, where they are only listed."""
MOST_STATES = 560
"""As many where the transmission from every two parents is: a table of 1.4 GB."""


def make_spaces(
    population: Population, classes: Iterable[tuple[str, ...]],
    cache: dict[tuple[str, ...], Space], most: int = MOST_LISTED,
) -> list[Space]:  # fmt: skip
    """Spaces of all loci, the given classes of lines merged; equal spaces are shared by cache.

    Raises:
        BeyondExact: loci that are solved together have more than `most` genotypes.
    """
    loci = {locus.id: locus for locus in population.loci}
    survival = survivals(population)
    system = population.sex_determination
    makers: dict[tuple[str, ...], Callable[[], Space]] = {}
    for group in population.linkage:
        makers[group.loci] = partial(
            autosomal_space, system, tuple(loci[one] for one in group.loci),
            group.recombination, survival,
        )  # fmt: skip
    merged = list(classes)
    for names in merged:
        makers[names] = partial(merged_space, system, tuple(loci[one] for one in names))
    together = tuple(
        locus.id for locus in population.loci
        if locus.chromosome != "autosome" and locus.id in survival
    )  # fmt: skip
    if together:
        members = tuple(loci[one] for one in together)
        makers[together] = partial(sex_space, system, members, survival)
    taken = {locus for names in makers for locus in names}
    for locus in population.loci:
        if locus.id in taken:
            continue
        if locus.chromosome == "autosome" and locus.id not in survival:
            makers[(locus.id,)] = partial(single_space, system, locus)
        elif locus.chromosome == "autosome":
            makers[(locus.id,)] = partial(autosomal_space, system, (locus,), (), survival)
        else:
            makers[(locus.id,)] = partial(sex_space, system, (locus,), survival)
    for key, make in makers.items():
        if key not in cache:
            _check_size([loci[one] for one in key], key in merged, most)
            cache[key] = make()
    plain = {key: cache[key] for key in makers}
    ways = population.columns.profiles
    return _with_nobody(plain, ways, cache) if ways else list(plain.values())


def _check_size(loci: Sequence[Locus], merged: bool, most: int) -> None:
    count = count_states(loci, merged)
    if count > most:
        names = listed(locus.id for locus in loci)
        raise BeyondExact(
            float(count) ** 3, float(most) ** 3,
            f"{names}: {count} genotypes to be solved together, more than the limit of {most}",
        )  # fmt: skip


def _with_nobody(
    plain: dict[tuple[str, ...], Space], ways: tuple[Retained, ...],
    cache: dict[tuple[str, ...], Space],
) -> list[Space]:  # fmt: skip
    """Spaces of a book in which dams have young alone.

    The sex of such young is told once: by the survivals on the sex chromosomes, if there are any,
    else by the first space there.
    """
    from genetics.dam_alone import with_nobody

    sexed = [key for key, space in plain.items() if space.sex_linked]
    carried = any(plain[key].carries_sex for key in sexed)
    found = []
    for key, space in plain.items():
        twice = not carried and key in sexed[:1]
        own = (*key, f"\nalone {ways!r} {twice}")
        if own not in cache:
            cache[own] = with_nobody(space, ways, twice)
        found.append(cache[own])
    return found
