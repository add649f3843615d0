"""The public page of a sheet, for whoever has its address, and what is needed to check it."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone

from keeper.access import open_to_all
from keeper.domain.sheets.public import PublicSheet, public_sheet, signed_sheets
from keeper.pages.frame.requests import require_safe
from keeper.pages.frame.shell import bare_page
from keeper.pages.sheets.papers import Paper, proof


@open_to_all
@require_safe
def paper(request: HttpRequest, code: str) -> HttpResponse:
    """Show a sheet as issued, whether its signature holds, and what came after."""
    shown = Paper(_public(code), as_of=timezone.localdate())
    context = {"paper": shown, "proof": reverse("papers-proof", args=[code])}
    return bare_page(request, "sheets/paper.html", context)


@open_to_all
@require_safe
def paper_proof(request: HttpRequest, code: str) -> HttpResponse:
    """Give what was signed, the signature and the key, for a check elsewhere."""
    answer = HttpResponse(proof(_public(code)), content_type="application/json")
    answer["Content-Disposition"] = 'attachment; filename="sheet.json"'
    answer["X-Robots-Tag"] = "noindex, nofollow"
    return answer


def _public(code: str) -> PublicSheet:
    return public_sheet(get_object_or_404(signed_sheets(), page_code=code))
