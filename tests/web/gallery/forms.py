"""Forms with every kind of field that pages use."""

from django import forms

KINDS = [
    ("update", "Update"),
    ("idea", "Idea"),
    ("question", "Question"),
    ("obstacle", "Obstacle"),
    ("achievement", "Achievement"),
]


class TopicForm(forms.Form):
    title = forms.CharField(
        label="Topic", max_length=200, help_text="One line, as you would say it. At most 200 characters."
    )
    kind = forms.ChoiceField(label="Kind", choices=KINDS, widget=forms.RadioSelect)
    outcome = forms.ChoiceField(
        label="Outcome wanted",
        choices=[("inform", "inform"), ("decide", "decide"), ("advise", "advise"), ("solve", "solve")],
    )
    minutes = forms.IntegerField(label="Minutes wanted", min_value=1, max_value=120, help_text="1 to 120")
    detail = forms.CharField(
        label="Detail",
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Both of you read this.",
    )
    must = forms.BooleanField(
        label="Must be discussed", required=False, help_text="One topic of yours a meeting may be marked so."
    )
    days = forms.MultipleChoiceField(
        label="Working days",
        choices=[("0", "Monday"), ("1", "Tuesday"), ("2", "Wednesday")],
        widget=forms.CheckboxSelectMultiple,
        required=False,
    )
    day = forms.DateField(label="Day", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    at = forms.TimeField(label="Time", widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"))
    version = forms.IntegerField(widget=forms.HiddenInput)

    def clean(self) -> dict[str, object]:
        if self.cleaned_data.get("detail") and not self.cleaned_data.get("title"):
            raise forms.ValidationError("A detail needs a topic to belong to: name the topic in one line.")
        return self.cleaned_data


def empty_form() -> TopicForm:
    return TopicForm(initial={"minutes": 10, "outcome": "inform", "version": 3}, prefix="new")


def refused_form() -> TopicForm:
    return TopicForm(
        {
            "title": "",
            "kind": "gossip",
            "outcome": "decide",
            "minutes": "500",
            "detail": "The relief clerk could start at 05:40 on Tuesdays.",
            "day": "",
            "at": "10:00",
            "version": "3",
        }
    )
