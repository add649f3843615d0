"""Who is kin by papers alone: the book holds animals that came with papers for founders."""

from keeper.domain.travel.plans import identities_in
from keeper.models import Animal, Brings, SignedPaper


def kin_by_papers(one: Animal, other: Animal | None) -> str:
    """Return that two animals are kin by what their signed papers tell of; nothing if they are not.

    What an animal's own parents are to those in papers is not followed.
    """
    if other is None:
        return ""
    pair = (one, other)
    papers = SignedPaper.objects.live().filter(animal__in=pair, brings=Brings.ANIMAL)
    told = {animal.pk: {str(animal.identity)} for animal in pair}
    for paper in papers:
        told[paper.animal_id] |= set(identities_in(paper))
    if not told[one.pk] & told[other.pk]:
        return ""
    return (
        "The signed papers of the two tell of some of the same animals: they are kin, and the "
        "kinship given here is too low."
    )
