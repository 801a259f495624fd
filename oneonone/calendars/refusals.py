"""The refusals for calendar files. Their texts are constant and contain nothing of the file."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

from accounts.refusals import Refusal


class CalendarRefusal(Refusal):
    """The file is refused. Busy times that were stored before are kept."""

    field = "calendar"


class NotACalendar(CalendarRefusal):
    text = _("That file is not a calendar.")
    accepted = _("An iCalendar file, as calendar programs export it; its name usually ends in .ics.")


class CutShort(CalendarRefusal):
    """Components that do not close, or close in another order than they were opened."""

    text = _("That calendar file is damaged or cut short.")
    accepted = _("A whole file: export the calendar again.")


class TooLarge(CalendarRefusal):
    text = _("That calendar file is too large.")
    accepted = _("At most 2 MB and 5,000 entries: export the coming three months only, or a single calendar.")


class TooDeep(CalendarRefusal):
    text = _("The entries of that calendar file are nested too deeply.")
    accepted = _("A file as calendar programs export it.")


class UnreadableEntry(CalendarRefusal):
    text = _("An entry of that calendar file has a time or a repetition that cannot be read.")
    accepted = _("Times and repetitions as RFC 5545 writes them.")


class UnknownZone(CalendarRefusal):
    text = _("That calendar file names a time zone that is not known here.")
    accepted = _("Zones of the IANA database, such as Europe/London, or of Windows.")


class TooManyTimes(CalendarRefusal):
    """Repetitions that would take too long to follow, or fill the days with too many pieces."""

    text = _("The entries of that calendar file repeat too often.")
    accepted = _("Entries that repeat daily or less often, and few dates listed one by one.")


class TooManyFiles(CalendarRefusal):
    """Limits the files of one person, because reading one can take seconds of processor time."""

    text = _("You have sent many calendar files in a short time.")
    accepted = _("Six in a minute, and forty in an hour: wait a little, then send the file again.")
