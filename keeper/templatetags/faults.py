"""What stands above a form that came back: what is wrong, what the book asks, what is offered."""

from typing import Any

from django import template

from keeper.pages.frame.faults import faults_of

register = template.Library()


@register.inclusion_tag("components/faults.html")
def faults(*forms: object) -> dict[str, Any]:
    """Print the faults of some forms; nothing where there are none."""
    return {"faults": faults_of(forms)}
