"""How likely two lines are one gene before any cross."""

from collections.abc import Iterable
from fractions import Fraction

from keeper import models as m


def pair_prior(pair: m.OpenPair, words: Iterable[m.PairWord]) -> Fraction:
    """How likely two lines are one gene before any cross: the keeper's view, and sources' words.

    A word of weight w is right with chance w, and says one thing or the other at random
    otherwise: it multiplies the odds by (1 + w) / (1 - w), or divides them.
    """
    for_one, for_two = Fraction(pair.prior), 1 - Fraction(pair.prior)
    for word in words:
        if (word.one_id, word.other_id) == (pair.one_id, pair.other_id):
            right, wrong = 1 + Fraction(word.weight), 1 - Fraction(word.weight)
            for_one *= right if word.one_gene else wrong
            for_two *= wrong if word.one_gene else right
    # Words that are certain and contradict each other leave nothing: then the view alone counts.
    whole = for_one + for_two
    return for_one / whole if whole else Fraction(pair.prior)
