"""What stands above a form that came back: what is wrong, what the book asks, what is offered."""

from typing import Any

from django import template
from django.template import Context

from keeper.pages.frame.faults import faults_of

register = template.Library()


@register.inclusion_tag("components/faults.html", takes_context=True)
def faults(context: Context, *forms: object) -> dict[str, Any]:
    """Print the faults of some forms; nothing where there are none.

    A page that was only asked something saves nothing, and does not say that it did not.
    """
    request = context.get("request")
    saving = request is None or request.method == "POST"
    return {"faults": faults_of(forms), "saving": saving}
