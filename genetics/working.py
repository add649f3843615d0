"""Workings on paper for the common situations: exact results, formulas, MathML.

Everything here is about one autosomal locus with a recessive mutant allele (a dominant one in
`two_copies_shown`; one on the X or Z in `single_copy_offspring`, `normal_linked_child` and
`single_linked_child`): an animal with one copy is a carrier and looks normal, one with two
copies shows.  Animals named in one situation are unrelated.  Where an earlier chance goes into
a situation, the `Working` that gave it may be handed over instead of a number: its steps then
come first.

Numbers may be whole, `Fraction` or `float`; a float means the decimal that it prints as, so that
0.9 is 9/10.

>>> sibling = normal_child(Parent(1), Parent(1))
>>> sibling.result
Fraction(2, 3)
>>> clean_offspring(sibling, 8, Parent(1)).result
Fraction(6561, 39329)
"""

from __future__ import annotations

from fractions import Fraction

from genetics.checks import check_count, refuse, shown
from genetics.errors import ImpossibleEvidence
from genetics.population import Number
from genetics.worksheet import MATHML, Chance, Parent, Sheet, Step, Working, exact, ratio

__all__ = [
    "MATHML",
    "Chance",
    "Parent",
    "Step",
    "Working",
    "carrying_child",
    "clean_offspring",
    "clean_offspring_of_open_line",
    "clean_test",
    "exact",
    "founder_papers",
    "normal_child",
    "normal_linked_child",
    "normal_stranger",
    "parents_cross",
    "positive_test",
    "shown_by_either_place",
    "shown_by_now",
    "single_copy_offspring",
    "single_linked_child",
    "two_copies_shown",
    "unseen_look",
]


def parents_cross(dam: Parent, sire: Parent, *, copies: int) -> Working:
    """Chance that a child of two parents has 0, 1 or 2 copies.

    With c the chance of one copy and s of two, a parent passes the allele on with g = c/2 + s;
    then P₀ = (1 − g)(1 − h), P₁ = g(1 − h) + h(1 − g), P₂ = gh.

    Raises:
        MalformedCase: a chance is not from 0 to 1, or `copies` none of 0, 1, 2.

    Reference: Mendel's law of segregation.
    """
    if copies not in (0, 1, 2):
        refuse("copies", f"{shown(copies)} is not accepted; expected 0, 1 or 2")
    sheet = Sheet()
    g, h = sheet.passed(dam, "dam"), sheet.passed(sire, "sire")
    wanted = ((1 - g) * (1 - h), g * (1 - h) + h * (1 - g), g * h)[copies]
    text = (
        "Chance that a child has no copy",
        "Chance that a child has one copy",
        "Chance that a child has two copies",
    )[copies]
    return sheet.close(f"P_{copies}", wanted, text)


def normal_child(dam: Parent, sire: Parent) -> Working:
    """Chance that a child that looks normal is a carrier, before anything else is known of it.

    P = (g(1 − h) + h(1 − g)) / (1 − gh) with g and h as in `parents_cross`; two carriers give
    2/3, the "66 % het" of the trade.

    Raises:
        MalformedCase: a chance is not from 0 to 1.
        ImpossibleEvidence: both parents are sure to show, so that no child looks normal.

    Reference: Mendel's law of segregation; Bayes' rule.
    """
    sheet = Sheet()
    g, h = sheet.passed(dam, "dam"), sheet.passed(sire, "sire")
    one = sheet.derive("P_1", g * (1 - h) + h * (1 - g), "Chance that a child has one copy")
    normal = sheet.derive("N", 1 - g * h, "Chance that a child looks normal")
    if not sheet.value(normal):
        raise ImpossibleEvidence("no child of two animals that both show can look normal")
    return sheet.close("P", one / normal, "Chance of one copy among those that look normal")


def carrying_child(dam: Parent, sire: Parent) -> Working:
    """Chance that a child of which nothing was seen has the allele, in one copy or in two.

    P = 1 − (1 − g)(1 − h) with g and h as in `parents_cross`.

    Raises:
        MalformedCase: a chance is not from 0 to 1.

    Reference: Mendel's law of segregation.
    """
    sheet = Sheet()
    g, h = sheet.passed(dam, "dam"), sheet.passed(sire, "sire")
    return sheet.close("P", 1 - (1 - g) * (1 - h), "Chance that a child has the allele")


def two_copies_shown(dam: Parent, sire: Parent) -> Working:
    """Chance that a child that shows a dominant trait has two copies.

    P = gh / (1 − (1 − g)(1 − h)) with g and h as in `parents_cross`; two parents with one copy
    each give 1/3.

    Raises:
        MalformedCase: a chance is not from 0 to 1.
        ImpossibleEvidence: neither parent can have the allele, so that no child shows.

    Reference: Mendel's law of segregation; Bayes' rule.
    """
    sheet = Sheet()
    g, h = sheet.passed(dam, "dam"), sheet.passed(sire, "sire")
    shows = sheet.derive("V", 1 - (1 - g) * (1 - h), "Chance that a child shows the trait")
    if not sheet.value(shows):
        raise ImpossibleEvidence("no child of two animals without the allele can show")
    return sheet.close("P", g * h / shows, "Chance of two copies among those that show")


def shown_by_either_place(dam: Parent, sire: Parent, elsewhere: Chance) -> Working:
    """Chance that a child that shows a look of two loci has the allele of one of them.

    With g and h as in `parents_cross`, and the chance r of two copies at the other locus, a child
    shows with V = 1 − (1 − gh)(1 − r), and P = (gh + (g(1 − h) + h(1 − g))r) / V.  The loci are
    taken to be independent in both parents.

    Raises:
        MalformedCase: a chance is not from 0 to 1.
        ImpossibleEvidence: no child can show.

    Reference: Mendel's laws of segregation and of independent assortment; Bayes' rule.
    """
    sheet = Sheet()
    g, h = sheet.passed(dam, "dam"), sheet.passed(sire, "sire")
    r = sheet.given(
        "r", elsewhere, "elsewhere", "Chance of two copies at the other place, by the same rules"
    )
    two = sheet.derive("P_2", g * h, "Chance of two copies at this place")
    one = sheet.derive("P_1", g * (1 - h) + h * (1 - g), "Chance of one copy at this place")
    shows = sheet.derive("V", 1 - (1 - two) * (1 - r), "Chance that a child shows, by either place")
    if not sheet.value(shows):
        raise ImpossibleEvidence("no child of these two can show")
    return sheet.close(
        "P", (two + one * r) / shows, "Chance of a copy at this place among those that show"
    )


def normal_linked_child(double: Parent, single: Chance) -> Working:
    """Chance that a normal-looking child with two X (or Z) carries an allele there.

    Such a child (a daughter in XY, a son in ZW) has one from each parent: of the parent with two
    with chance g = c/2 + s, of the parent with one whenever that has the allele, with chance x:
    P = (g(1 − x) + x(1 − g)) / (1 − gx).

    Raises:
        MalformedCase: a chance is not from 0 to 1.
        ImpossibleEvidence: no such child can look normal.

    Reference: sex-linked inheritance (T. H. Morgan 1910, Science 32: 120-122); Bayes' rule.
    """
    sheet = Sheet()
    g = sheet.passed(double, "double")
    x = sheet.given(
        "x", single, "single", "Chance that the parent with one such chromosome has the allele"
    )
    one = sheet.derive("P_1", g * (1 - x) + x * (1 - g), "Chance that a child has one copy")
    normal = sheet.derive("N", 1 - g * x, "Chance that a child looks normal")
    if not sheet.value(normal):
        raise ImpossibleEvidence("no such child can look normal")
    return sheet.close("P", one / normal, "Chance of one copy among those that look normal")


def single_linked_child(double: Parent) -> Working:
    """Chance that a child with one X (or Z) has an allele there: P = c/2 + s.

    It has that chromosome from the parent with two of them, and shows whatever it has.

    Raises:
        MalformedCase: a chance is not from 0 to 1.

    Reference: sex-linked inheritance (T. H. Morgan 1910, Science 32: 120-122).
    """
    sheet = Sheet()
    c, s = sheet.parent(double, "double")
    return sheet.close("P", c / 2 + s, "Chance that a child with one such chromosome has it")


def normal_stranger(frequency: Number) -> Working:
    """Chance that an animal that looks normal, from a background of known frequency, carries.

    P = 2f(1 − f) / (1 − f²) = 2f / (1 + f), in Hardy–Weinberg proportions.

    Raises:
        MalformedCase: the frequency is not from 0 to 1.
        ImpossibleEvidence: the frequency is 1, so that no animal looks normal.

    Reference: Hardy–Weinberg proportions; Bayes' rule.
    """
    sheet = Sheet()
    f = sheet.given("f", frequency, "frequency", "Frequency of the allele in the background")
    one = sheet.derive("P_1", 2 * f * (1 - f), "Chance of one copy")
    normal = sheet.derive("N", 1 - f**2, "Chance of looking normal")
    if not sheet.value(normal):
        raise ImpossibleEvidence("no animal looks normal where every allele is the mutant")
    return sheet.close("P", one / normal, "Chance of one copy among those that look normal")


def clean_offspring(prior: Chance, offspring: int, mate: Parent) -> Working:
    """Chance that an animal carries after a number of normal-looking offspring of one mate.

    P = pL / (pL + 1 − p).  L is the chance of n clean offspring if it carries,
    c(3/4)ⁿ + s(1/2)ⁿ + 1 − c − s with the mate's chances c of one copy and s of two; the mate is
    the same for all n, so that its chances are not multiplied n times.  The animal itself looks
    normal.

    Raises:
        MalformedCase: a chance is not from 0 to 1, or `offspring` no whole number from 0.

    Reference: Mendel's law of segregation; Bayes' rule.
    """
    check_count(offspring, "offspring")
    sheet = Sheet()
    p = sheet.given("p", prior, "prior", "Chance that the animal carries, before the test")
    c, s = sheet.parent(mate, "mate")
    n = sheet.given("n", offspring, "", "Offspring, all of which look normal")
    clean = sheet.clean(c, s, n, "Chance of so many clean offspring if the animal carries")
    return sheet.close("P", p * clean / (p * clean + 1 - p), "Chance that it carries all the same")


def clean_offspring_of_open_line(
    prior: Chance,
    tested: Number,
    offspring: int,
    mate: Parent,
    *,
    share: Number | None = None,
    shared: bool = True,
) -> Working:
    """Chance that an animal carries one of several lines after clean offspring that test some.

    The animal has, with chance p, one copy of one of several lines that look alike; with chance
    w it is of those at the mate's locus, which offspring of this mate can show.  With L as in
    `clean_offspring`, all n are clean with D = 1 − pw(1 − L).  It carries any of the lines with
    (pwL + p(1 − w)) / D; a line with part v of the whole, if the mate has lines of its locus
    (`shared`), with pvL / D, else with pv / D.

    Raises:
        MalformedCase: a chance is not from 0 to 1, or `offspring` no whole number from 0.

    Reference: Mendel's law of segregation; Bayes' rule.
    """
    check_count(offspring, "offspring")
    sheet = Sheet()
    p = sheet.given("p", prior, "prior", "Chance that it carries one of the lines, before the test")
    w = sheet.given(
        "w", tested, "tested", "Chance that such a line is one that this mate's offspring can show"
    )
    c, s = sheet.parent(mate, "mate")
    n = sheet.given("n", offspring, "", "Offspring, all of which look normal")
    clean = sheet.clean(c, s, n, "Chance of so many clean offspring if it carries such a line")
    all_clean = sheet.derive(
        "D", 1 - p * w * (1 - clean), "Chance of so many clean offspring, whatever it carries"
    )
    if share is None:
        still = p * w * clean + p * (1 - w)
        return sheet.close(
            "P", still / all_clean, "Chance that it carries one of them all the same"
        )
    v = sheet.given("v", share, "share", "Part of this line among them")
    left = p * v * clean if shared else p * v
    return sheet.close("P", left / all_clean, "Chance that it carries this line all the same")


def shown_by_now(offspring: int, mate: Parent) -> Working:
    """Chance that a carrier would have shown itself among so many offspring of one mate.

    D = 1 − (c(3/4)ⁿ + s(1/2)ⁿ + 1 − c − s) with the mate's chances c of one copy and s of two.
    The rule of thumb of 99 % takes 17 offspring of a carrier, not 16: 1 − (3/4)¹⁶ = 98.998 %.

    Raises:
        MalformedCase: a chance is not from 0 to 1, or `offspring` no whole number from 0.

    Reference: Mendel's law of segregation.
    """
    check_count(offspring, "offspring")
    sheet = Sheet()
    c, s = sheet.parent(mate, "mate")
    n = sheet.given("n", offspring, "", "Offspring that could be looked at")
    clean = sheet.clean(c, s, n, "Chance that all of them look normal though the animal carries")
    return sheet.close("D", 1 - clean, "Chance that a carrier would have shown itself by now")


def single_copy_offspring(prior: Chance, offspring: int) -> Working:
    """Chance that a parent carries an X- or Z-linked allele after clean single-copy offspring.

    A carrier with two such chromosomes passes the allele on to half of its offspring of the sex
    with one of them (sons in XY, daughters in ZW), which then show:
    P = p(1/2)ⁿ / (p(1/2)ⁿ + 1 − p).

    Raises:
        MalformedCase: `prior` is not from 0 to 1, or `offspring` no whole number from 0.

    Reference: Bayes' rule; see the checks for a published table.
    """
    check_count(offspring, "offspring")
    sheet = Sheet()
    p = sheet.given("p", prior, "prior", "Chance that the parent carries, before the offspring")
    n = sheet.given("n", offspring, "", "Offspring with one such chromosome, none of which shows")
    clean = sheet.derive(
        "L", ratio(Fraction(1, 2)) ** n, "Chance of so many clean ones if the parent carries"
    )
    return sheet.close("P", p * clean / (p * clean + 1 - p), "Chance that it carries all the same")


def founder_papers(
    stated: Chance,
    reliability: Number = 1,
    frequency: Number = 0,
    *,
    share: Number = 1,
    unsaid: Number = 0,
) -> Working:
    """Chance that a founder carries by papers from a source that is right only so often.

    The papers state p; with chance q the source is right, else the animal is like any other of
    the background: P = qp + (1 − q)·2f(1 − f).  Of a line that the papers leave open, and that
    is meant with chance w, P = qpw (f must then be 0).  Where the chance b that an animal of
    which nothing is said carries is known instead of a frequency, P = qpw + (1 − q)b.  A
    reliability and a share of 1, a frequency and a b of 0 stay out of the formula.

    Raises:
        MalformedCase: one of them is not from 0 to 1, or there is a frequency beside a share or b.

    Reference: law of total probability; Hardy–Weinberg proportions.
    """
    if share != 1 and frequency != 0:
        refuse("share", f"{shown(share)} is not accepted beside a frequency; expected 1")
    if unsaid != 0 and frequency != 0:
        refuse("unsaid", f"{shown(unsaid)} is not accepted beside a frequency; expected 0")
    sheet = Sheet()
    p = sheet.given("p", stated, "stated", "Chance that it carries, as the papers state")
    q = sheet.unless_one("q", reliability, "reliability", "Chance that the source is right")
    w = sheet.unless_one("w", share, "share", "Chance that this is the line that is meant")
    f = sheet.unless_zero("f", frequency, "frequency", "Frequency of the allele in the background")
    b = sheet.unless_zero(
        "b", unsaid if reliability != 1 else 0, "unsaid",
        "Chance that an animal of which nothing is said carries",
    )  # fmt: skip
    right = q * p * w
    if sheet.value(b) != 0:
        return sheet.close("P", right + (1 - q) * b, "Chance that the founder carries")
    if sheet.value(f) == 0:
        return sheet.close("P", right, "Chance that the founder carries")
    other = sheet.derive("b", 2 * f * (1 - f), "Chance that any other animal carries")
    return sheet.close("P", right + (1 - q) * other, "Chance that the founder carries")


def unseen_look(prior: Chance, penetrance: Number, mistaken: Number = 0) -> Working:
    """Chance that an animal carries though a look of incomplete penetrance was not seen on it.

    P = p(1 − k) / (p(1 − k) + (1 − p)(1 − a)) with penetrance k, the share of carriers that show
    it, and the share a of others that are taken for such.

    Raises:
        MalformedCase: one of them is not from 0 to 1.
        ImpossibleEvidence: the look is sure to be seen.

    Reference: Bayes' rule.
    """
    sheet = Sheet()
    p = sheet.given("p", prior, "prior", "Chance that the animal carries, before it was looked at")
    k = sheet.given("k", penetrance, "penetrance", "Share of carriers that show it")
    a = sheet.unless_zero("a", mistaken, "mistaken", "Share of others that are taken for such")
    hidden = sheet.derive("M", p * (1 - k), "Chance of a carrier that does not show it")
    free = sheet.derive("F", (1 - p) * (1 - a), "Chance of no carrier and nothing seen")
    if not sheet.value(hidden + free):
        raise ImpossibleEvidence("the look is sure to be seen on such an animal")
    return sheet.close("P", hidden / (hidden + free), "Chance that it carries all the same")


def clean_test(prior: Chance, detection: Number, false_alarm: Number = 0) -> Working:
    """Chance that an animal that looks normal carries though a test found nothing.

    P = p(1 − d) / (p(1 − d) + (1 − p)(1 − a)) with detection d, the share of carriers that the
    test finds, and false alarms a, the share of others that it reports.

    Raises:
        MalformedCase: one of them is not from 0 to 1.
        ImpossibleEvidence: the test is sure to report such an animal.

    Reference: Bayes' rule.
    """
    sheet = Sheet()
    p = sheet.given("p", prior, "prior", "Chance that the animal carries, before the test")
    d = sheet.given("d", detection, "detection", "Share of carriers that the test finds")
    a = sheet.unless_zero(
        "a", false_alarm, "false_alarm", "Share of others that the test reports by mistake"
    )
    missed = sheet.derive("M", p * (1 - d), "Chance of a carrier that the test misses")
    free = sheet.derive("F", (1 - p) * (1 - a), "Chance of no carrier and a clean test")
    if not sheet.value(missed + free):
        raise ImpossibleEvidence("the test cannot have come back clean")
    return sheet.close("P", missed / (missed + free), "Chance that it carries all the same")


def positive_test(prior: Chance, detection: Number, false_alarm: Number = 0) -> Working:
    """Chance that an animal that looks normal carries after a test found the allele.

    P = pd / (pd + (1 − p)a) with detection d, the share of carriers that the test finds, and
    false alarms a, the share of others that it reports.

    Raises:
        MalformedCase: one of them is not from 0 to 1.
        ImpossibleEvidence: the test cannot have found anything.

    Reference: Bayes' rule.
    """
    sheet = Sheet()
    p = sheet.given("p", prior, "prior", "Chance that the animal carries, before the test")
    d = sheet.given("d", detection, "detection", "Share of carriers that the test finds")
    a = sheet.given(
        "a", false_alarm, "false_alarm", "Share of others that the test reports by mistake"
    )
    found = sheet.derive("F", p * d, "Chance of a carrier that the test finds")
    alarm = sheet.derive("A", (1 - p) * a, "Chance of no carrier and a false alarm")
    if not sheet.value(found + alarm):
        raise ImpossibleEvidence("the test cannot have found anything")
    return sheet.close("P", found / (found + alarm), "Chance that it does carry")
