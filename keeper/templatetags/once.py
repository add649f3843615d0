"""What every form that writes sends along, so that it is written once and over nothing unseen."""

from collections.abc import Iterable, Iterator

from django import template
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from keeper.domain.book import submission
from keeper.domain.book.versions import written_versions
from keeper.models import Record

register = template.Library()


@register.simple_tag
def once(*made_from: object) -> SafeString:
    """Print a form's one-time token, and the versions of the records that it was made from.

    `made_from`: records, forms of records, or lists of these; what is not in the book yet, and what
    a page was not given, is passed over.
    """
    sent = submission.current()
    versions = written_versions(
        _records(made_from),
        sent.versions if sent is not None else {},
        overtaken=sent is not None and sent.overtaken,
    )
    kept = {submission.TOKEN: submission.new_token(), submission.MADE_FROM: versions}
    if sent is not None and sent.insisted:
        # Asked once: what is so stays so while the form is mended elsewhere.
        kept[submission.INSIST] = " ".join(sorted(sent.insisted))
    # In a page that answers a form, which one: its draft in the browser goes on as this form.
    answered = format_html(' data-answered="{}"', sent.token) if sent is not None else ""
    rows = [
        (name, value, answered if name == submission.TOKEN else "") for name, value in kept.items()
    ]
    return format_html_join("", '<input type="hidden" name="{}" value="{}"{}>', rows)


def _records(listed: Iterable[object]) -> Iterator[Record]:
    for one in listed:
        if isinstance(one, list | tuple):
            yield from _records(one)
            continue
        record = getattr(one, "instance", one)
        if isinstance(record, Record) and record.pk:
            yield record
