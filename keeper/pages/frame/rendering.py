"""How forms look: every field through one component, nothing repeated in pages."""

from django.forms.renderers import TemplatesSetting


class PageRenderer(TemplatesSetting):
    """Render forms and fields with the templates of `templates/components/`."""

    form_template_name = "components/form.html"
    field_template_name = "components/field.html"
