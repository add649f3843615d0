"""Lines of one look compared: the table, two lines, words on them, a decision opened again."""

from dataclasses import replace

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from keeper.access import account
from keeper.domain.book.previewing import Preview, tried
from keeper.domain.book.typed import row_number
from keeper.domain.book.writing import Refused
from keeper.domain.lines import queries as read
from keeper.domain.lines import writes
from keeper.models import PairWord, Trait
from keeper.pages.frame.editing import Editing, asked, edited, section, seen_by
from keeper.pages.frame.fields import ReasonForm
from keeper.pages.frame.files import csv_file, wants_file
from keeper.pages.frame.moved import after_save, just_moved
from keeper.pages.frame.refusals import said
from keeper.pages.frame.requests import form_view, require_safe
from keeper.pages.lines import page as pages
from keeper.pages.lines.addresses import address_of, two_lines
from keeper.pages.lines.forms import ReopenForm, WordForm
from keeper.pages.lines.table import lines_table

_WORDS = PairWord.objects.select_related("one__trait", "other__trait", "source")


@require_safe
def lines(request: HttpRequest, trait: int) -> HttpResponseBase:
    """Show the lines of a look by the lines of a look: one gene, two genes or open."""
    one = get_object_or_404(Trait.objects.live().select_related("species"), pk=trait)
    page = pages.lines_page(one)
    if wants_file(request):
        return csv_file("lines-compared", lines_table(page))
    return render(request, "compatibility/lines.html", {"page": page})


@require_safe
def pair(request: HttpRequest, one: int, other: int) -> HttpResponse:
    """Show what bears on two lines: words, crosses, the best cross, what was decided."""
    first, second = two_lines(one, other)
    if (first.pk, second.pk) != (one, other):
        return redirect(address_of(first, second))
    page = pages.pair_page(
        first,
        second,
        today=timezone.localdate(),
        first=row_number(request.GET.get("weigh")),
    )
    context = {"page": page, "moved": just_moved(request)}
    return render(request, "compatibility/pair.html", context)


@form_view
def new_word(request: HttpRequest, one: int, other: int) -> HttpResponse:
    """Note what a source says of two lines."""
    first, second = two_lines(one, other)
    return _word(request, PairWord(one=first, other=second))


@form_view
def edit_word(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a word on two lines; what a signed report says stays as it was signed."""
    word = get_object_or_404(_WORDS.filter(withdrawn_at=None), pk=pk)
    if word.is_report:
        messages.error(
            request,
            "What a report says stands as it was signed. Withdraw it, or change how far you take "
            "its signer’s word on their page.",
        )
        return redirect(address_of(word.one, word.other))
    return _word(request, word)


def _word(request: HttpRequest, word: PairWord) -> HttpResponse:
    form = WordForm(request.POST or None, instance=word)
    address = address_of(word.one, word.other)
    page = Editing(
        heading=f"{'Change the' if word.pk else 'A'} word on {word.one} and {word.other.code}",
        lead="Somebody's word is kept as theirs. While the pair is open it counts as far as you "
        "take it; the book's own crosses count beside it.",
        forms=[form],
        sections=[section(form)],
        back=address,
        reason=ReasonForm.of_change(request.POST or None) if word.pk else None,
    )
    return edited(
        request,
        page,
        save=lambda reason: writes.keep_word(
            word=form.instance, by=account(request), reason=reason
        ),
        to=lambda: address,
    )


@form_view
def withdraw_word(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask why, and withdraw a word on two lines."""
    word = get_object_or_404(_WORDS.all(), pk=pk)
    address = address_of(word.one, word.other)
    if word.is_withdrawn:
        return redirect(address)
    form = ReasonForm.of_withdrawal(request.POST or None)
    page = Editing(
        heading="Withdraw this word?",
        lead=f"{word}. It stays readable, no longer counts, and can be restored.",
        forms=[form],
        sections=[section(form)],
        back=address,
        submit="Withdraw",
        harm=True,
    )
    return edited(
        request,
        page,
        save=lambda _: writes.withdraw_word(
            word=word, by=account(request), reason=form.cleaned_data["reason"]
        ),
        to=lambda: address,
    )


@require_POST
def restore_word(request: HttpRequest, pk: int) -> HttpResponse:
    """Let a withdrawn word count again; if that moves numbers, once it is confirmed."""
    word = get_object_or_404(_WORDS.all(), pk=pk)
    address = address_of(word.one, word.other)
    if not word.is_withdrawn:
        return redirect(address)
    page = Editing(
        heading="Restore this word?",
        lead=f"{word}. It counts again.",
        forms=[],
        sections=[],
        back=address,
        submit="Restore",
    )
    try:
        outcome = tried(
            lambda: writes.restore_word(word=word, by=account(request)),
            seen=seen_by(request),
        )
    except (Refused, ValidationError) as refused:
        messages.error(request, said(refused))
        return redirect(address)
    if isinstance(outcome, Preview):
        return asked(request, replace(page, preview=outcome))
    return after_save(address, outcome)


@form_view
def reopen(request: HttpRequest, one: int, other: int) -> HttpResponse:
    """Leave it open again whether two lines are one gene."""
    first, second = two_lines(one, other)
    address = address_of(first, second)
    if read.open_pair(first, second) is not None:
        return redirect(address)
    form = ReopenForm(request.POST or None)
    page = Editing(
        heading=f"{first} and {second.code}: open again?",
        lead="Nobody is sure, then: every figure follows both readings, weighed by what hatched.",
        forms=[form],
        sections=[section(form)],
        back=address,
        submit="Open it again",
    )
    return edited(
        request,
        page,
        save=lambda _: writes.reopen_pair(
            one=first,
            other=second,
            prior=form.cleaned_data["prior"],
            by=account(request),
            reason=form.cleaned_data["reason"],
        ),
        to=lambda: address,
    )
