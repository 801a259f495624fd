"""The cadence page as comma-separated values (RFC 4180), for a spreadsheet. Dates only."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Iterable

from django.utils.translation import gettext as _

from oneonone.selectors.cadence.lines_below import Row

# Characters that start a formula in spreadsheets, including full-width forms (OWASP, CSV injection).
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
MARK = "\ufeff"


def as_csv(rows: Iterable[Row]) -> str:
    """One record a line, days as ISO 8601. A byte order mark tells spreadsheets that it is UTF-8."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(
        plain(name)
        for name in (
            _("Manager"),
            _("Report"),
            _("Every"),
            _("Unit"),
            _("Last held"),
            _("Days since"),
            _("Standing"),
            _("Days"),
            _("Interval ends"),
            _("Next"),
            _("Next confirmed"),
        )
    )
    for row in rows:
        writer.writerow(
            [
                plain(row.manager),
                plain(row.report),
                row.every or "",
                row.unit,
                _day(row.last_held),
                row.silence,
                row.standing,
                row.days,
                _day(row.due),
                _day(row.next_day),
                "" if row.next_day is None else (_("yes") if row.next_confirmed else _("no")),
            ]
        )
    return MARK + out.getvalue()


def plain(text: str) -> str:
    """Prefix text that looks like a formula with an apostrophe."""
    return f"'{text}" if text.lstrip(" \xa0\u3000").startswith(FORMULA) or text.startswith(FORMULA) else text


def _day(day: dt.date | None) -> str:
    return "" if day is None else day.isoformat()
