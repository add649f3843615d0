"""What a column of a table may mean, and by which words in its head that is guessed."""

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum


class Meaning(StrEnum):
    """What a column says of an animal."""

    LEFT = "left"
    CODE = "code"
    NAME = "name"
    SPECIES = "species"
    SEX = "sex"
    HATCHED = "hatched"
    DAM = "dam"
    SIRE = "sire"
    CLUTCH = "clutch"
    GENES = "genes"
    GENE = "gene"
    WEIGHT = "weight"
    SOURCE = "source"
    ACQUIRED = "acquired"
    STATUS = "status"
    PLACE = "place"
    NOTE = "note"


@dataclass(frozen=True)
class Told:
    """A meaning in words, and whether several columns may have it."""

    label: str
    help: str = ""
    several: bool = False


MEANINGS: Mapping[Meaning, Told] = {
    Meaning.CODE: Told("Code", "Each animal's own."),
    Meaning.NAME: Told("Name"),
    Meaning.SPECIES: Told("Species"),
    Meaning.SEX: Told("Sex", "1.0, 0.1, m, f, male …"),
    Meaning.HATCHED: Told("Hatch day", "Or the year alone."),
    Meaning.DAM: Told("Dam", "By code or name."),
    Meaning.SIRE: Told("Sire", "By code or name; several with a stroke: M-1 / M-2."),
    Meaning.CLUTCH: Told("Clutch code"),
    Meaning.GENES: Told(
        "Traits", "As the trade writes them: 100 % het A (HAR), 66 % poss het B.", several=True
    ),
    Meaning.GENE: Told(
        "One trait, named by the head", "Cells say visual, het, 66 %, x …", several=True
    ),
    Meaning.WEIGHT: Told("Weight", "Goes to the notes: the book has no weights yet."),
    Meaning.SOURCE: Told("From whom", "Names that are new become contacts."),
    Meaning.ACQUIRED: Told("Came on"),
    Meaning.STATUS: Told("Status", "kept, for sale, sold, on loan, died"),
    Meaning.PLACE: Told("Place"),
    Meaning.NOTE: Told("Notes, with the head before it", several=True),
    Meaning.LEFT: Told("Leave this column out", several=True),
}

# Words that heads of such tables are made of: common practice, no source.
_WORDS: Mapping[Meaning, tuple[str, ...]] = {
    Meaning.CODE: ("code", "id", "animal id", "animal", "tag", "number", "no", "nr", "ref"),
    Meaning.NAME: ("name", "animal name", "called"),
    Meaning.SPECIES: ("species", "kind", "scientific name", "taxon"),
    Meaning.SEX: ("sex", "gender", "m f", "sexed", "m f u"),
    Meaning.HATCHED: (
        *("hatched", "hatch", "hatch date", "hatch day", "hatched on", "date hatched", "dob"),
        *("date of birth", "born", "birth", "birthday", "birth date", "year", "hatch year"),
    ),
    Meaning.DAM: ("dam", "mother", "mum", "dam id", "dam code", "dam name", "parent f"),
    Meaning.SIRE: ("sire", "father", "dad", "sire id", "sire code", "sire name", "parent m"),
    Meaning.CLUTCH: ("clutch", "clutch code", "clutch id", "clutch no", "clutch number"),
    Meaning.GENES: (
        *("genes", "traits", "trait", "genetics", "morph", "morphs", "genotype", "phenotype"),
        *("mutations", "het", "hets", "poss het", "possible hets", "visual", "visuals"),
    ),
    Meaning.WEIGHT: ("weight", "weight g", "weight oz", "grams", "mass", "weight grams", "g", "oz"),
    Meaning.SOURCE: (
        *("source", "seller", "breeder", "from", "from whom", "bought from", "supplier", "origin"),
    ),
    Meaning.ACQUIRED: (
        *("acquired", "acquired on", "came on", "bought on", "purchase date", "date acquired"),
        *("arrived", "purchased", "date bought", "bought"),
    ),
    Meaning.STATUS: ("status", "state", "availability"),
    Meaning.PLACE: ("place", "location", "rack", "tub", "enclosure", "room", "cage", "where"),
}
_BY_WORD = {word: meaning for meaning, words in _WORDS.items() for word in words}


def key_of(head: str) -> str:
    """Return a head as it is compared: small letters, figures and single spaces.

    >>> key_of("Date_of Birth:")
    'date of birth'
    """
    plain = unicodedata.normalize("NFKD", head).encode("ascii", "ignore").decode().lower()
    return " ".join(re.findall(r"[a-z0-9]+", plain)) or " ".join(head.casefold().split())


def guessed(
    heads: Sequence[str], remembered: Mapping[str, str], genes: Iterable[str]
) -> list[Meaning]:
    """Return what each column seems to mean: as it was picked before, by its words, else a note."""
    found: list[Meaning] = []
    named = {key_of(one) for one in genes}
    for head in heads:
        meaning = _one(key_of(head), remembered, named)
        if meaning in found and not MEANINGS[meaning].several:
            meaning = Meaning.NOTE
        found.append(meaning)
    if Meaning.CODE not in found and Meaning.NAME in found:
        pass  # a code can be made of the name
    return found


def _one(key: str, remembered: Mapping[str, str], genes: set[str]) -> Meaning:
    if remembered.get(key) in set(Meaning):
        return Meaning(remembered[key])
    if key in genes:
        return Meaning.GENE
    if key in _BY_WORD:
        return _BY_WORD[key]
    last = key.split()[-1:] or [""]
    return _BY_WORD.get(last[0], Meaning.NOTE) if len(key.split()) > 1 else Meaning.NOTE


def looks_like_heads(cells: Iterable[str]) -> int:
    """Count the cells that read like heads."""
    return sum(key_of(cell) in _BY_WORD for cell in cells if cell)
