"""The example's ways of clutches: what was seen of females, of eggs and of young."""

from collections.abc import Callable, Mapping
from datetime import date
from typing import Any

from django.db.models import Sum

from keeper import models as m
from keeper.domain.breeding import writes

Event = Mapping[str, Any]


class Ways:
    """Enters those events, each by the write that a keeper's own form would take."""

    def __init__(
        self, by: m.Account, animals: Mapping[str, m.Animal], clutches: Mapping[str, m.Clutch]
    ) -> None:
        self.by, self.animals, self.clutches = by, animals, clutches
        self.does: dict[str, Callable[[Event], m.DaybookEntry]] = {
            "seen": self._seen,
            "box": self._box,
            "step": self._step,
        }

    def _seen(self, event: Event) -> m.DaybookEntry:
        sire = self.animals[event["sire"]] if "sire" in event else None
        one = m.BreedingEvent(dam=self.animals[event["dam"]], sire=sire, kind=event["kind"])
        one.on, one.note = date.fromisoformat(event["on"]), event.get("note", "")
        one.size_mm = event.get("size_mm")
        return writes.note_event(event=one, by=self.by)

    def _box(self, event: Event) -> m.DaybookEntry:
        box = m.Incubation(clutch=self._clutch(event), since=date.fromisoformat(event["on"]))
        for name in ("box", "place", "temperature", "medium"):
            setattr(box, name, event[name])
        return writes.keep_incubation(incubation=box, by=self.by)

    def _step(self, event: Event) -> m.DaybookEntry:
        clutch = self._clutch(event)
        step = m.ClutchStep(clutch=clutch, kind=event["kind"], count=event.get("count"))
        step.on, step.note = date.fromisoformat(event["on"]), event.get("note", "")
        young: list[m.Animal] = []
        if event.get("young") == "all":
            young = list(m.Animal.objects.live().filter(clutch=clutch).order_by("code"))
            rows = m.HatchRow.objects.live().filter(clutch=clutch)
            step.count = (rows.aggregate(all=Sum("count"))["all"] or 0) - len(young) or None
        return writes.note_step(step=step, young=young, by=self.by)

    def _clutch(self, event: Event) -> m.Clutch:
        # As the book has it now: its losses are counted on.
        found: m.Clutch = m.Clutch.objects.get(pk=self.clutches[event["clutch"]].pk)
        return found
