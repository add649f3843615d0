"""The part of the example collection that is entered through the functions behind the pages.

Words on lines, laboratories, prospects, what was adopted or looked into: each is one call of the
domain, whose entry is dated back to its day.
"""

from collections.abc import Callable, Mapping
from datetime import date
from fractions import Fraction
from typing import Any

from keeper import models as m
from keeper.domain import explaining
from keeper.domain.disputes import surprises
from keeper.domain.example.register import Register
from keeper.domain.laboratories import writes as laboratories
from keeper.domain.lines import writes as compatibility
from keeper.domain.prospects import writes as prospects
from keeper.domain.register import placing
from keeper.domain.register.shares import keep_shares

Event = Mapping[str, Any]


class Evidence:
    """What was entered so far, by name; animals and contacts are shared with the replay."""

    def __init__(
        self,
        by: m.Account,
        register: Register,
        animals: dict[str, m.Animal],
        contacts: dict[str, m.Contact],
    ) -> None:
        self.by = by
        self.register = register
        self.animals = animals
        self.contacts = contacts
        self.laboratories: dict[str, m.Laboratory] = {}
        self.prospects: dict[str, m.Prospect] = {}
        self.does: dict[str, Callable[[Event], m.DaybookEntry]] = {
            "shares": self._shares,
            "pair-word": self._word,
            "decide-pair": self._decide,
            "laboratory": self._laboratory,
            "lab-test": self._test,
            "prospect": self._prospect,
            "let-go": self._let_go,
            "buy": self._buy,
            "adopt": self._adopt,
            "looked-at": self._looked_at,
        }

    # --- lines -----------------------------------------------------------------------------------

    def _shares(self, event: Event) -> m.DaybookEntry:
        trait = self.register.trait(self.register.species[event["species"]], event["trait"])
        lines = {line.code: line for line in m.Line.objects.filter(trait=trait)}
        shares = {lines[code]: Fraction(share) for code, share in event["shares"].items()}
        return keep_shares(trait=trait, shares=shares, by=self.by, reason=event["reason"])

    def _pair(self, event: Event) -> tuple[m.Line, m.Line]:
        species = self.register.species[event["species"]]
        one, other = (self.register.line(species, event[which]) for which in ("one", "other"))
        return one, other

    def _word(self, event: Event) -> m.DaybookEntry:
        one, other = self._pair(event)
        word = m.PairWord(one=one, other=other, one_gene=event["one_gene"], says=event["says"])
        word.source, word.weight = self.contacts[event["source"]], event["weight"]
        word.on = date.fromisoformat(event["on"])
        return compatibility.keep_word(word=word, by=self.by)

    def _decide(self, event: Event) -> m.DaybookEntry:
        one, other = self._pair(event)
        pair = m.OpenPair.objects.live().get(one=one, other=other)
        return placing.decide_pair(
            pair=pair, one_gene=event["one_gene"], by=self.by, reason=event["reason"]
        )

    # --- laboratories ----------------------------------------------------------------------------

    def _laboratory(self, event: Event) -> m.DaybookEntry:
        laboratory = m.Laboratory(name=event["name"], notes=event.get("notes", ""))
        laboratory.misses, laboratory.mistakes = event["misses"], event["mistakes"]
        laboratory.rates_source = event["rates_source"]
        self.laboratories[laboratory.name] = laboratory
        return laboratories.keep_laboratory(laboratory=laboratory, by=self.by)

    def _test(self, event: Event) -> m.DaybookEntry:
        animal = self.animals[event["animal"]]
        test = m.LabTest(animal=animal, found=event["found"], number=event["number"])
        test.line = self.register.line(animal.species, event["line"])
        test.laboratory = self.laboratories[event["laboratory"]]
        test.on = date.fromisoformat(event["on"])
        return laboratories.keep_test(test=test, by=self.by)

    # --- prospects -------------------------------------------------------------------------------

    def _prospect(self, event: Event) -> m.DaybookEntry:
        species = self.register.species[event["species"]]
        prospect = m.Prospect(species=species, name=event["name"], sex=event["sex"])
        prospect.source, prospect.where = self.contacts[event["source"]], event["where"]
        prospect.seen_on, prospect.asked = date.fromisoformat(event["on"]), event["asked"]
        prospect.hatched_year, prospect.says = event["year"], event["says"]
        self.prospects[prospect.name] = prospect
        words = [self._said(species, told) for told in event["words"]]
        return prospects.keep_prospect(prospect=prospect, words=words, by=self.by)

    def _said(self, species: m.Species, told: Event) -> m.ProspectWord:
        trait = self.register.trait(species, told["trait"])
        line = self.register.lines[trait.pk, told["line"]] if "line" in told else None
        word = m.ProspectWord(trait=trait, line=line, claim=told["claim"])
        word.chance = told.get("chance")
        return word

    def _let_go(self, event: Event) -> m.DaybookEntry:
        prospect = self.prospects[event["prospect"]]
        return prospects.let_go(prospect=prospect, reason=event["reason"], by=self.by)

    def _buy(self, event: Event) -> m.DaybookEntry:
        prospect, on = self.prospects[event["prospect"]], date.fromisoformat(event["on"])
        animal = m.Animal(code=event["code"], name=event["name"], sex=prospect.sex)
        animal.sex_told, animal.hatched_year = m.SexTold.STATED, prospect.hatched_year
        animal.acquired_on, animal.place = on, event["place"]
        self.animals[animal.code] = animal
        paper = m.Paper(dated=on, says=event["paper"])
        return prospects.buy(prospect=prospect, animal=animal, paper=paper, by=self.by)

    # --- what was looked into --------------------------------------------------------------------

    def _adopt(self, event: Event) -> m.DaybookEntry:
        """Adopt an explanation about an animal in the dispute that a clutch is part of."""
        named = (
            cluster
            for cluster in explaining.clusters()
            if any(clutch.code == event["clutch"] for clutch in cluster.clutches)
        )
        key = f"{event['explanation']}-{self.animals[event['animal']].pk}"
        return explaining.adopt(cluster=next(named), key=key, by=self.by, reason=event["reason"])

    def _looked_at(self, event: Event) -> m.DaybookEntry:
        surprise = m.Surprise.objects.get(clutch__code=event["clutch"])
        return surprises.look_at(surprise=surprise, by=self.by)
