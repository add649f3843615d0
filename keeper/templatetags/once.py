"""What every form that writes sends along, so that it is written once and over nothing unseen."""

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from keeper.domain.book import submission
from keeper.domain.book.versions import written_versions
from keeper.models import Record

register = template.Library()


@register.simple_tag
def once(*records: Record | None) -> SafeString:
    """Print a form's one-time token, and the versions of the records that it was made from.

    A record that is not there yet, or was not given, is passed over.
    """
    made_from = [record for record in records if isinstance(record, Record) and record.pk]
    sent = submission.current()
    versions = written_versions(
        made_from,
        sent.versions if sent is not None else {},
        overtaken=sent is not None and sent.overtaken,
    )
    return format_html(
        '<input type="hidden" name="{}" value="{}"><input type="hidden" name="{}" value="{}">',
        submission.TOKEN,
        submission.new_token(),
        submission.MADE_FROM,
        versions,
    )
