"""A form with one field of every kind, for the page of all parts."""

from django import forms

from sidelong.training.position import Position


class SampleForm(forms.Form):
    """Sends nothing anywhere."""

    code = forms.CharField(
        label="Code", max_length=12, help_text="As it stands on the sheets, for example HL-0421."
    )
    seen = forms.DateField(
        label="Day of the visit", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    position = forms.ChoiceField(
        label="Position that was seen",
        choices=[(each.value, each.value.capitalize()) for each in Position],
        widget=forms.RadioSelect,
    )
    site = forms.ChoiceField(
        label="Site", choices=[("harbour", "Harbour"), ("hill", "Hill")], required=False
    )
    note = forms.CharField(
        label="What was seen",
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="No names: this is read by people who know the code only.",
    )
    went_down = forms.BooleanField(label="The piece was seen to go down cleanly", required=False)
