"""What is proposed for a new clutch, as the laying form begins with it."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from django import forms
from django.utils import timezone

from keeper.domain.breeding.proposing import Proposal, propose
from keeper.domain.saying.typed_chance import as_typed
from keeper.models import Animal
from keeper.pages.frame.fields import day_input


class ProposalForm(forms.Form):
    """For which day sires are proposed, and what a lock weighs; all of it lives in the address."""

    laid = forms.DateField(label="If laid on", widget=day_input(), required=False)
    lock = forms.IntegerField(
        min_value=1,
        max_value=100,
        required=False,
        label="A lock weighs",
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )

    def __init__(self, data: Any, *, dam: Animal | None) -> None:
        weight = dam.species.lock_weight if dam is not None else None
        super().__init__(data, initial={"laid": timezone.localdate(), "lock": weight})
        self.dam = dam
        if dam is not None and dam.species.bears_live:
            self.fields["laid"].label = "If born on"

    @property
    def day(self) -> date:
        """The day that is asked about; today where none is, or none that can be."""
        today = timezone.localdate()
        given = self.cleaned_data.get("laid") if self.is_bound and self.is_valid() else None
        return given if given is not None and given <= today else today

    def proposal(self) -> Proposal | None:
        """Return what is proposed; None without a dam."""
        if self.dam is None:
            return None
        weight = self.cleaned_data.get("lock") if self.is_bound and self.is_valid() else None
        return propose(self.dam, self.day, lock_weight=weight)


def as_initial(proposal: Proposal | None) -> Mapping[str, Any]:
    """Return the fields of a clutch that begin with what is proposed; none where nothing is."""
    found: dict[str, Any] = {}
    if proposal is None:
        return found
    alone = len(proposal.proposed) == 1
    number = 0
    for one in proposal.proposed:
        share = "" if alone else as_typed(one.candidate.share)
        if one.candidate.alone:
            found |= {"alone": True, "alone_share": share}
        else:
            number += 1
            found |= {f"sire_{number}": one.candidate.sire, f"share_{number}": share}
    return found
