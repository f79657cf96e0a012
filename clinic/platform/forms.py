"""How every form looks and how it is sent once."""

import uuid

from django import forms
from django.forms.renderers import TemplatesSetting


class FieldRenderer(TemplatesSetting):
    """One field template for the whole product: label, control, help, error slot."""

    field_template_name = "components/field.html"


class OnceForm(forms.Form):
    """Carries a token that the action may spend once, so a double tap changes nothing twice."""

    once = forms.UUIDField(widget=forms.HiddenInput, initial=uuid.uuid4)
