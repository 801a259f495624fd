"""Refusals of a calendar file, with constant texts that contain nothing of the file."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

from accounts.refusals import Refusal


class CalendarRefusal(Refusal):
    """The file is not used. Busy times stored before stay."""

    field = "calendar"


class NotACalendar(CalendarRefusal):
    text = _("That file is not a calendar.")
    accepted = _("An iCalendar file exported from a calendar program. Its name usually ends in .ics.")


class CutShort(CalendarRefusal):
    """Components that are not closed, or closed in the wrong order."""

    text = _("That calendar file is damaged or cut short.")
    accepted = _("A complete file. Export the calendar again.")


class TooLarge(CalendarRefusal):
    text = _("That calendar file is too large.")
    accepted = _("At most 2 MB and 5,000 entries. Export only the next three months, or a single calendar.")


class TooDeep(CalendarRefusal):
    text = _("The entries of that calendar file are nested too deeply.")
    accepted = _("A file exported from a calendar program.")


class UnreadableEntry(CalendarRefusal):
    text = _("An entry of that calendar file has a time or a repetition that cannot be read.")
    accepted = _("Times and repetitions in the form of RFC 5545.")


class UnknownZone(CalendarRefusal):
    text = _("That calendar file has an unknown time zone.")
    accepted = _("Time zones of the IANA database, such as Europe/London, or of Windows.")


class TooManyTimes(CalendarRefusal):
    """Repetitions that would take too long to expand, or give too many busy times."""

    text = _("The entries of that calendar file repeat too often.")
    accepted = _("Entries that repeat daily or less often, with few single dates.")


class TooManyFiles(CalendarRefusal):
    """Reading a file can take some seconds of CPU time, so the rate for each person is limited."""

    text = _("You have sent many calendar files in a short time.")
    accepted = _("Six in a minute and forty in an hour. Wait a little and send the file again.")
