"""What is sent about a reaction, its report, and a lump at the place of an injection."""

from django import forms

from clinic.platform.forms import OnceForm
from preventive.forms import DAY, is_yes
from preventive.reaction_models import Outcome, Severity
from preventive.reactions import SIGNS


class ReactionForm(OnceForm):
    given = forms.MultipleChoiceField(
        label="After what? Tick everything given in those days",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "After what? Tick everything that was given."},
    )
    signs = forms.MultipleChoiceField(
        label="What was seen",
        choices=list(SIGNS.items()),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "What was seen? Tick at least one."},
    )
    words = forms.CharField(
        label="In words", required=False, widget=forms.Textarea({"rows": 2}), max_length=2000
    )
    began_on = forms.DateField(
        label="Began on", widget=DAY, error_messages={"required": "On which day did it begin?"}
    )
    began_at = forms.TimeField(
        label="At", required=False, widget=forms.TimeInput(attrs={"type": "time"}), help_text="The hour."
    )
    severity = forms.ChoiceField(
        label="How severe",
        choices=Severity.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "How severe was it?"},
    )
    outcome = forms.ChoiceField(label="How it ended", choices=Outcome.choices)
    treatment = forms.CharField(
        label="Treated with", required=False, widget=forms.Textarea({"rows": 2}), max_length=2000
    )
    told_by = forms.CharField(label="Who saw it", max_length=120, error_messages={"required": "Who saw it?"})

    def __init__(self, *args: object, given: tuple[tuple[str, str], ...], **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        field = self.fields["given"]
        assert isinstance(field, forms.MultipleChoiceField)
        field.choices = given
        field.widget = forms.CheckboxSelectMultiple(choices=given)


class ReportForm(OnceForm):
    to = forms.CharField(max_length=160, error_messages={"required": "To whom was it reported?"})
    reference = forms.CharField(max_length=80, required=False)
    on = forms.DateField(required=False)


class FollowForm(OnceForm):
    outcome = forms.ChoiceField(choices=Outcome.choices)
    treatment = forms.CharField(max_length=2000, required=False)


class WhyForm(OnceForm):
    reason = forms.CharField(max_length=200, error_messages={"required": "Say why."})


class SiteLookForm(OnceForm):
    """`there` and `growing` become yes or no; what is not known of growing is None."""

    there = forms.TypedChoiceField(
        choices=[("yes", "a lump is there"), ("no", "nothing there")],
        coerce=is_yes,
        error_messages={"required": "Is something there, or not?"},
    )
    largest_mm = forms.IntegerField(min_value=1, max_value=500, required=False)
    growing = forms.TypedChoiceField(
        choices=[("", "not known"), ("yes", "growing"), ("no", "not growing")],
        coerce=is_yes,
        empty_value=None,
        required=False,
    )
