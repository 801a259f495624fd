"""How topics have run in a line, in sentences."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from oneonone.selectors.agenda.duration_history import History
from oneonone.web.agenda.wording import reason_wording


def rows(history: History) -> list[str]:
    """How each kind runs, counted over how many topics. A kind that keeps its minutes says so."""
    return [
        ngettext(
            "%(ran)s, counted over %(n)d topic.", "%(ran)s, counted over %(n)d topics.", found.observations
        )
        % {"ran": _begin(reason_wording.run(kind, found.factor)), "n": found.observations}
        if found.factor != 1
        else _("%(kind)s: as long as asked, counted over %(n)d topics.")
        % {"kind": _begin(str(reason_wording.KINDS[kind])), "n": found.observations}
        for kind, found in sorted(history.kinds.items())
    ]


def _begin(words: str) -> str:
    return words[:1].upper() + words[1:]
