"""Names in a case that tell nobody anything, one for each name of the book.

A1 is the animal that a paper is about, A2 and so on its relatives, C1 and so on clutches. Questions
put to laboratories and words of sources are numbered; who was asked and who said it is left out.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import genetics
from keeper.domain.inference.reading.asked_traits import LABORATORY, PAPERS, WORD, only_asked
from keeper.domain.inference.reading.rows import Rows
from keeper.models import Animal, Clutch

_KINDS = {LABORATORY: "test", WORD: "word", PAPERS: "paper"}


@dataclass
class Labels:
    """The labels of one paper.

    Attributes:
        animals, clutches: label by id, of those that are rows of the book.
    """

    animals: dict[int, str] = field(default_factory=dict)
    clutches: dict[int, str] = field(default_factory=dict)
    _pks: dict[str, int] = field(default_factory=dict)
    _others: int = 0

    def open(self, rows: Rows, animal: Animal | None = None) -> None:
        """Take in who is in a part of the book; the animal that it is about, if any, is A1."""
        self._pks = {one.code: pk for pk, one in rows.animals.items()}
        if animal is not None:
            self.animals.setdefault(animal.pk, "A1")

    def identities(self) -> dict[str, str]:
        """Label → the identity that travels."""
        found: dict[str, str] = {}
        for model, labels in ((Animal, self.animals), (Clutch, self.clutches)):
            rows = model.objects.filter(pk__in=labels).values_list("pk", "identity")
            found |= {labels[pk]: str(identity) for pk, identity in rows}
        return found

    def animal(self, code: str) -> str:
        """The label of an animal by its code."""
        return self.animals.setdefault(self._pks[code], f"A{len(self.animals) + 1}")

    def neutral(self, case: "genetics.JsonObject", clutch_ids: Mapping[int, str]) -> "Neutral":
        """Return a case with labels for names, and what each trait of it is called there."""
        there = {one["id"] for one in case.get("clutches", ())}
        clutch = {}
        for pk, name in sorted(clutch_ids.items()):
            if name in there:
                clutch[name] = self.clutches.setdefault(pk, f"C{len(self.clutches) + 1}")
        renamed = _Renaming(self, clutch, _traits(case))
        return Neutral(renamed.case(case), renamed.traits)


@dataclass(frozen=True)
class Neutral:
    """A case that names nobody, and the labels of its traits by their names in the book."""

    case: "genetics.JsonObject"
    traits: Mapping[str, str]


def _traits(case: "genetics.JsonObject") -> dict[str, str]:
    """Labels of traits that are questions; those of the register keep their names."""
    found: dict[str, str] = {}
    taken = {one["id"] for one in case.get("traits", ())}
    for one in case.get("traits", ()):
        name = one["id"]
        if not only_asked(name):
            found[name] = name
            continue
        kind = next((word for head, word in _KINDS.items() if name.startswith(head)), "")
        base = kind or name.split("\n")[0]
        number = 1
        while (label := f"{base} {number}" if kind else f"{base}, again") in taken:
            number += 1
            base = base if kind else f"{base}, again"
        taken.add(label)
        found[name] = label
    return found


@dataclass
class _Renaming:
    labels: Labels
    clutch: Mapping[str, str]
    traits: Mapping[str, str]
    _trusts: dict[str, str] = field(default_factory=dict)

    def case(self, case: "genetics.JsonObject") -> "genetics.JsonObject":
        """The whole case."""
        found = dict(case)
        found["animals"] = [self._animal(one) for one in case["animals"]]
        if "clutches" in case:
            found["clutches"] = [self._clutch(one) for one in case["clutches"]]
        found["traits"] = [
            one
            | {"id": self.traits[one["id"]]}
            | (
                {"hides": [self.traits.get(name, name) for name in one["hides"]]}
                if "hides" in one
                else {}
            )
            for one in case.get("traits", ())
        ]
        if "trust" in case:
            found["trust"] = {self._trust(name): chance for name, chance in case["trust"].items()}
        if "ask" in case:
            asked = dict(case["ask"])
            asked["joint"] = [
                one | {"animal": self.labels.animal(one["animal"])} for one in asked["joint"]
            ]
            found["ask"] = asked
        return found

    def _animal(self, one: "genetics.JsonObject") -> "genetics.JsonObject":
        found = one | {"id": self.labels.animal(one["id"])} | self._parents(one)
        if "clutch" in one:
            found["clutch"] = self.clutch[one["clutch"]]
        if "shows" in one:
            found["shows"] = self._shows(one["shows"])
        if "statements" in one:
            said = [word | {"trust": self._trust(word["trust"])} for word in one["statements"]]
            found["statements"] = said
        return dict(found)

    def _clutch(self, one: "genetics.JsonObject") -> "genetics.JsonObject":
        found = one | {"id": self.clutch[one["id"]]} | self._parents(one)
        if "candidates" in one:
            found["candidates"] = [pair | self._parents(pair) for pair in one["candidates"]]
        if "tally" in one:
            found["tally"] = [
                row | ({"shows": self._shows(row["shows"])} if "shows" in row else {})
                for row in one["tally"]
            ]
        return dict(found)

    def _parents(self, one: "genetics.JsonObject") -> "genetics.JsonObject":
        return {
            role: self.labels.animal(one[role])
            for role in ("dam", "sire")
            if one.get(role) is not None and one[role] != genetics.NO_SIRE
        }

    def _shows(self, shows: "genetics.JsonObject") -> "genetics.JsonObject":
        return {self.traits[name]: seen for name, seen in shows.items()}

    def _trust(self, name: str) -> str:
        return self._trusts.setdefault(name, f"together {len(self._trusts) + 1}")
