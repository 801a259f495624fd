"""Why something was not done, or what is in the way: sixteen codes.

Source of the categories: situational constraints (Peters & O'Connor 1980; Spector & Jex 1998), common reasons
of the Australian Fair Work Ombudsman, planning fallacy (Buehler, Griffin & Ross 1994), intention-behaviour
gap (Sheeran & Webb 2016). The labels are our own.
"""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _


class ReasonCode(models.TextChoices):
    """One reason. Stored only in sealed rows of the person who gives it."""

    UNCLEAR = "unclear", _("The result wanted was not clear")
    PRIORITY = "priority", _("Something else took priority")
    TIME = "time", _("Not enough working time")
    ESTIMATE = "estimate", _("It was bigger than expected")
    SKILL = "skill", _("It needs knowledge or practice I do not have yet")
    INFORMATION = "information", _("Information or a decision is missing")
    TOOLS = "tools", _("A tool, system, access or equipment")
    FUNDS = "funds", _("Money, people or materials")
    DEPENDS = "depends", _("Waiting for another person or team")
    OTHER_SIDE = "other_side", _("Waiting for the person I meet")
    RULES = "rules", _("A rule, an approval or a process")
    INTERRUPTED = "interrupted", _("Unplanned work or interruptions")
    FORGOTTEN = "forgotten", _("I lost track of it")
    OVERTAKEN = "overtaken", _("It is no longer needed")
    PERSONAL = "personal", _("Personal reasons")
    OTHER = "other", _("Something else")


# A personal reason takes no text, so that nothing about health or family is written down.
WITHOUT_TEXT = frozenset({ReasonCode.PERSONAL})
