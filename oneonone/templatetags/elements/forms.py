"""Fields, the summary of what has to change, and both texts of an edit that came too late."""

from datetime import datetime

from django.forms import BaseForm, BoundField

from oneonone.templatetags.elements.registry import Values, block_element, element, one_of

SIZES = ("", "short", "wide")


@element
def field(
    field: BoundField,
    *,
    label: str = "",
    help: str = "",
    unit: str = "",
    size: str = "",
    label_hidden: bool = False,
    choices_down: bool = False,
) -> Values:
    """A bound field of any widget with its label, help and errors.

    Django points ``aria-describedby`` of the control at ``<id>_helptext`` and ``<id>_error``; the template
    gives these ids. ``size``: "", "short" (as wide as the control) or "wide". ``unit`` stands after it.
    """
    one_of(size, SIZES, "size")
    input_type = getattr(field.field.widget, "input_type", "")
    if help:
        field.help_text = help
    return {
        "label": label or field.label,
        "is_group": field.use_fieldset and input_type in ("radio", "checkbox"),
        "is_checkbox": input_type == "checkbox" and not field.use_fieldset,
        "may_stay_empty": not field.field.required and not field.field.disabled,
    }


@element
def fields(form: BaseForm) -> None:
    """Every field of a form in its order, the hidden ones too, without summary and buttons."""


@element
def error_summary(*forms: BaseForm) -> Values:
    """What has to change before the forms are taken, each fault a link to its field; nothing without faults.

    It takes the focus when the page opens, so it stands once on a page, above the first form.
    """
    faults: list[tuple[str, str, str]] = []
    for form in forms:
        faults += [("", "", str(message)) for message in form.non_field_errors()]
        for bound in form:
            faults += [(_control_id(bound), str(bound.label), str(message)) for message in bound.errors]
    return {"faults": faults}


def _control_id(bound: BoundField) -> str:
    """The id a link to the field must name; a group of choices is no control, so its first choice."""
    if not bound.auto_id or bound.is_hidden:
        return ""
    return bound.id_for_label or f"{bound.auto_id}_0"


@block_element
def stale_edit(
    *, yours: str, theirs: str, name: str, changed_at: datetime | None = None, what: str = ""
) -> None:
    """Both texts when an edit was made on an older version, and who changed it. The content saves again."""
