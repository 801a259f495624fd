"""What holds of the shares that two sides want, in a sentence."""

from __future__ import annotations

from django.utils.translation import gettext as _

from oneonone.models import Line, Side


def percent_of(line: Line, side: Side) -> int | None:
    """The share one side has set, in percent; None for none."""
    return line.manager_floor_percent if side is Side.MANAGER else line.report_floor_percent


def state(line: Line, reader: Side) -> str:
    """Whether shares are kept, and whose word is missing when they are not."""
    yours, theirs = percent_of(line, reader), percent_of(line, reader.other)
    facts = {"other": line.name_on(reader.other), "yours": yours, "theirs": theirs}
    if yours is None and theirs is None:
        return _("No share is kept: neither of you has set one.")
    if theirs is None:
        return _("You want at least %(yours)d %%. %(other)s has set no share, so none is kept yet.") % facts
    if yours is None:
        wants = _("%(other)s wants at least %(theirs)d %%. You have set no share, so none is kept yet.")
        return wants % facts
    both = _(
        "What you bring has at least %(yours)d %% of the minutes discussed, what %(other)s brings at "
        "least %(theirs)d %%, as far as topics ask for them."
    )
    return both % facts
