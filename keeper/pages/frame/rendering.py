"""How forms look: every field through one component, nothing repeated in pages.

Inputs and selects are written without a template, as Django's own templates would write them: a
page has hundreds of them and their options, and took half of its time so.
"""

import html
from typing import Any

from django.forms.renderers import TemplatesSetting
from django.utils.formats import localize
from django.utils.safestring import SafeData

_WIDGETS = "django/forms/widgets/"
_INPUTS = frozenset(
    f"{_WIDGETS}{kind}.html"
    for kind in (
        *("input", "text", "number", "hidden", "checkbox", "date", "time"),
        *("email", "url", "tel", "search", "password"),
    )
)
# Lists of errors, one a field.
_ERRORS = "django/forms/errors/list/"


class PageRenderer(TemplatesSetting):
    """Render forms and fields with the templates of `templates/components/`."""

    form_template_name = "components/form.html"
    field_template_name = "components/field.html"

    def render(self, template_name: str, context: dict[str, Any], request: Any = None) -> str:
        """Write a widget, or that there are no errors, at once; else by its template."""
        if template_name in _INPUTS:
            return _input(context["widget"])
        if template_name == f"{_WIDGETS}select.html":
            return _select(context["widget"])
        if template_name.startswith(_ERRORS) and not context["errors"]:
            return ""
        return super().render(template_name, context, request)


def _input(widget: dict[str, Any]) -> str:
    value = "" if widget["value"] is None else f' value="{_text(widget["value"])}"'
    name, attrs = _text(widget["name"]), _attrs(widget["attrs"])
    return f'<input type="{_text(widget["type"])}" name="{name}"{value}{attrs}>'


def _select(widget: dict[str, Any]) -> str:
    written = [f'<select name="{_text(widget["name"])}"{_attrs(widget["attrs"])}>']
    for group, options, _ in widget["optgroups"]:
        if group:
            written.append(f'  <optgroup label="{_text(localize(group))}">')
        written += map(_option, options)
        if group:
            written.append("  </optgroup>")
    return "\n".join([*written, "</select>"])


def _option(option: dict[str, Any]) -> str:
    value, label = _text(option["value"]), _text(localize(option["label"]))
    return f'  <option value="{value}"{_attrs(option["attrs"])}>{label}</option>'


def _attrs(attrs: dict[str, Any]) -> str:
    return "".join(
        f" {_text(name)}" if value is True else f' {_text(name)}="{_text(value)}"'
        for name, value in attrs.items()
        if value is not False
    )


def _text(value: Any) -> str:
    return str(value) if isinstance(value, SafeData) else html.escape(str(value))
