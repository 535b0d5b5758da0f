"""What a tap on the day sheet sends."""

from django import forms


class TapForm(forms.Form):
    """A drive of the day, and the odometer where it was read."""

    leg = forms.CharField(max_length=60)
    odometer = forms.DecimalField(max_digits=8, decimal_places=1, min_value=0, required=False)


class UndoForm(forms.Form):
    """A drive of the day, and which tap was a mistake."""

    leg = forms.CharField(max_length=60)
    tap = forms.ChoiceField(choices=[("start", "Start"), ("arrive", "Arrive")])
