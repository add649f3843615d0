"""Changes of a case file that must not change its answer, or only in a known way."""

from __future__ import annotations

import copy
from random import Random
from typing import Any

from tests.genetics.twin_genome import FEMALE, MALE, NOBODY, Case
from tests.genetics.twin_worlds import known_sexes

Answer = dict[str, Any]


class Relabelling:
    """Other names, and another order, for everything in a case, and back in its answer."""

    def __init__(self, case: Case, random: Random) -> None:
        self.case, self.random = case, random
        self.animals = self._names("creature", [a["id"] for a in case["animals"]])
        self.clutches = self._names("nest", [c["id"] for c in case.get("clutches", [])])
        self.traits = self._names("look", [t["id"] for t in case.get("traits", [])])
        self.loci = self._names("place", [lc["id"] for lc in case["loci"]])
        self.alleles: dict[str, dict[str, str]] = {}
        self.order: dict[str, list[str]] = {}
        for locus in case["loci"]:
            wild, *mutants = locus["alleles"]
            names = {wild: "normal", **self._names("variant", mutants)}
            self.alleles[locus["id"]] = names
            self.order[locus["id"]] = ["normal", *self._shuffled([names[m] for m in mutants])]
        self.rows = {
            clutch["id"]: self._shuffled(range(len(clutch.get("candidates", []))))
            for clutch in case.get("clutches", [])
        }
        self.trusts = self._names("source", list(case.get("trust", {})))
        self.entries = self._shuffled(range(len(case.get("same_locus", []))))

    def _shuffled(self, things: Any) -> list[Any]:
        found = list(things)
        self.random.shuffle(found)
        return found

    def _names(self, stem: str, names: list[str]) -> dict[str, str]:
        numbers = self._shuffled(range(len(names)))
        return {name: f"{stem} {n}" for name, n in zip(names, numbers, strict=True)}

    def key(self, locus: str, key: str) -> str:
        """A genotype key in the new names, in the new order of the alleles."""
        mark = "|" if "|" in key else "/"
        names = [self.alleles[locus].get(part, part) for part in key.split(mark)]
        if mark == "/" and names[1] not in ("Y", "W"):
            names.sort(key=self.order[locus].index)
        return mark.join(names)

    def _table(self, locus: str, table: dict[str, Any]) -> dict[str, Any]:
        return {self.key(locus, key): value for key, value in self._shuffled(table.items())}

    def _tables(self, tables: dict[str, Any]) -> dict[str, Any]:
        return {self.loci[lc]: self._table(lc, t) for lc, t in self._shuffled(tables.items())}

    def _keys(self, wanted: dict[str, Any]) -> dict[str, Any]:
        """Locus to a key or to a list of keys."""
        return {
            self.loci[locus]: self.key(locus, keys)
            if isinstance(keys, str)
            else self._shuffled(self.key(locus, key) for key in keys)
            for locus, keys in self._shuffled(wanted.items())
        }

    def _traits(self, shows: dict[str, Any]) -> dict[str, Any]:
        return {self.traits[trait]: seen for trait, seen in self._shuffled(shows.items())}

    def new_case(self) -> Case:
        """The case in the new names and order."""
        case, found = self.case, copy.deepcopy(self.case)
        found["loci"] = [
            {**locus, "id": self.loci[locus["id"]], "alleles": self.order[locus["id"]]}
            for locus in self._shuffled(case["loci"])
        ]
        if "linkage" in case:
            found["linkage"] = [self._group(group) for group in case["linkage"]]
        if "viability" in case:
            found["viability"] = [
                {
                    "locus": self.loci[entry["locus"]],
                    "genotype": self.key(entry["locus"], entry["genotype"]),
                    "survival": entry["survival"],
                }
                for entry in self._shuffled(case["viability"])
            ]
        if "background" in case:
            found["background"] = {
                self.loci[lc]: {self.alleles[lc][allele]: f for allele, f in table.items()}
                for lc, table in case["background"].items()
            }
        if "same_locus" in case:
            entries = [case["same_locus"][i] for i in self.entries]
            found["same_locus"] = [
                {**entry, "loci": self._shuffled(self.loci[lc] for lc in entry["loci"])}
                for entry in entries
            ]
        found["traits"] = [self._trait(t) for t in self._shuffled(case.get("traits", []))]
        found["animals"] = [self._animal(a) for a in self._shuffled(case["animals"])]
        clutches = self._shuffled(case.get("clutches", []))
        found["clutches"] = [self._clutch(clutch) for clutch in clutches]
        if "trust" in case:
            trust = self._shuffled(case["trust"].items())
            found["trust"] = {self.trusts[name]: p for name, p in trust}
        found["ask"] = self._ask(case.get("ask", {}))
        return found

    def _group(self, group: dict[str, Any]) -> dict[str, Any]:
        loci = [self.loci[locus] for locus in group["loci"]]
        rates = list(group["recombination"])
        if self.random.random() < 0.5:
            loci.reverse()
            rates.reverse()
        return {"loci": loci, "recombination": rates}

    def _trait(self, trait: dict[str, Any]) -> dict[str, Any]:
        found: dict[str, Any] = {"id": self.traits[trait["id"]]}
        if "recessive_at" in trait:
            found["recessive_at"] = self._shuffled(self.loci[lc] for lc in trait["recessive_at"])
        if "shown_by" in trait:
            found["shown_by"] = self._shuffled(self._keys(a) for a in trait["shown_by"])
        if "hides" in trait:
            found["hides"] = self._shuffled(self.traits.get(t, t) for t in trait["hides"])
        return found

    def _parents(self, record: dict[str, Any]) -> dict[str, Any]:
        found = {
            role: self.animals.get(parent) if role in ("dam", "sire") else parent
            for role, parent in record.items()
        }
        if record.get("sire") == NOBODY:
            found["sire"] = NOBODY
        if isinstance(record.get("retained"), dict):
            kept = record["retained"].items()
            found["retained"] = {self.loci[locus]: p for locus, p in self._shuffled(kept)}
        return found

    def _animal(self, animal: dict[str, Any]) -> dict[str, Any]:
        found = self._parents(animal) | {"id": self.animals[animal["id"]]}
        if "clutch" in animal:
            found["clutch"] = self.clutches[animal["clutch"]]
        if "begins" in animal:
            found["begins"] = self._shuffled(self.loci[locus] for locus in animal["begins"])
        if "shows" in animal:
            found["shows"] = self._traits(animal["shows"])
        for kind in ("founder", "likelihood"):
            if kind in animal:
                found[kind] = self._tables(animal[kind])
        if "founder_joint" in animal:
            found["founder_joint"] = self._joint(animal["founder_joint"])
        if "statements" in animal:
            found["statements"] = [
                self._statement(one) for one in self._shuffled(animal["statements"])
            ]
        return found

    def _joint(self, rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
        return [
            {"p": row["p"], "genotypes": self._keys(row["genotypes"])}
            for row in self._shuffled(rows)
        ]

    def _statement(self, one: dict[str, Any]) -> dict[str, Any]:
        found = {**one, "trust": self.trusts[one["trust"]]}
        for kind in ("founder", "likelihood"):
            if kind in one:
                found[kind] = self._tables(one[kind])
        if "founder_joint" in one:
            found["founder_joint"] = self._joint(one["founder_joint"])
        return found

    def _clutch(self, clutch: dict[str, Any]) -> dict[str, Any]:
        found = self._parents(clutch) | {"id": self.clutches[clutch["id"]]}
        if "candidates" in clutch:
            rows = [clutch["candidates"][i] for i in self.rows[clutch["id"]]]
            found["candidates"] = [self._parents(row) for row in rows]
        if "tally" in clutch:
            found["tally"] = [
                {**line, "shows": self._traits(line["shows"])}
                for line in self._shuffled(clutch["tally"])
            ]
        return found

    def _ask(self, ask: dict[str, Any]) -> dict[str, Any]:
        found: dict[str, Any] = {}
        if "joint" in ask:
            found["joint"] = [
                {"animal": self.animals[q["animal"]], "genotypes": self._keys(q["genotypes"])}
                for q in ask["joint"]
            ]
        if "offspring" in ask:
            found["offspring"] = [self._parents(q) for q in ask["offspring"]]
            for question in found["offspring"]:
                if "goal" in question:
                    question["goal"] = self._goal(question["goal"])
        if "kinship" in ask:
            found["kinship"] = [[self.animals[who] for who in pair] for pair in ask["kinship"]]
        if "inbreeding" in ask:
            found["inbreeding"] = [self.animals[who] for who in ask["inbreeding"]]
        return found

    def _goal(self, goal: dict[str, Any]) -> dict[str, Any]:
        found = dict(goal)
        if "shows" in goal:
            found["shows"] = self._traits(goal["shows"])
        if "genotypes" in goal:
            found["genotypes"] = self._keys(goal["genotypes"])
        return found

    def new_answer(self, answer: Answer) -> Answer:
        """The answer to the case, in the new names and order."""
        found = copy.deepcopy(answer)
        found["posterior"] = {
            self.animals[who]: self._tables(loci) for who, loci in answer["posterior"].items()
        }
        found["sex"] = {self.animals[who]: p for who, p in answer["sex"].items()}
        if "trust" in answer:
            found["trust"] = {self.trusts[name]: p for name, p in answer["trust"].items()}
        found["same_locus"] = [answer["same_locus"][i] for i in self.entries]
        found["parentage"] = {}
        for clutch, shares in answer["parentage"].items():
            rows = self.rows[clutch]
            found["parentage"][self.clutches[clutch]] = (
                {self.animals[who]: [p[i] for i in rows] for who, p in shares.items()}
                if isinstance(shares, dict)
                else [shares[i] for i in rows]
            )
        for question in found["offspring"]:
            for row in question["phenotypes"]:
                row["shows"] = [self.traits[trait] for trait in row["shows"]]
        return found


def with_uninformative_relatives(case: Case, random: Random) -> Case:
    """The case with unobserved animals that say nothing about the others.

    A stranger and his child, a child of two recorded animals (if there are a dam and a sire),
    another of the dam alone, and one more hatchling of a clutch. All new animals but the
    stranger are of unknown sex: a recorded sex of a child counts as evidence.
    """
    found = copy.deepcopy(case)
    sexes = known_sexes(case)
    dams = [who for who, sex in sexes.items() if sex == FEMALE]
    sires = [who for who, sex in sexes.items() if sex == MALE]
    extra: list[dict[str, Any]] = [{"id": "stranger", "sex": "male"}]
    extra.append({"id": "stranger's child", "sire": "stranger"})
    if dams and sires:
        couple = {"dam": random.choice(dams), "sire": random.choice(sires)}
        extra.append({"id": "child", **couple})
        extra.append({"id": "half-known", "sex": "unknown", "dam": couple["dam"]})
    if found.get("clutches"):
        extra.append({"id": "hatchling", "clutch": random.choice(found["clutches"])["id"]})
    for animal in extra:
        found["animals"].insert(random.randint(0, len(found["animals"])), animal)
    return found


def with_tallies_as_animals(case: Case) -> Case:
    """The case with every hatchling of a tally as an animal of its own."""
    found = copy.deepcopy(case)
    for clutch in found.get("clutches", []):
        for i, line in enumerate(clutch.pop("tally", [])):
            for j in range(line["count"]):
                animal = {"id": f"{clutch['id']} line {i} egg {j}", "clutch": clutch["id"]}
                found["animals"].append(animal | {"sex": line["sex"], "shows": line["shows"]})
    return found
