"""The refusals of this package. Each names the field and what is accepted."""

from __future__ import annotations


class CadenceRefusal(ValueError):  # the domain's word for it
    """A value that cannot be used.

    `field` names the parameter as the caller knows it; `accepted` says in English what would
    have been taken. Faces translate by class and field. `got` is kept out of the message, which
    may be logged.
    """

    def __init__(self, field: str, accepted: str, got: object = None) -> None:
        self.field = field
        self.accepted = accepted
        self.got = got
        super().__init__(field, accepted, got)

    def __str__(self) -> str:
        """The field and what is accepted for it."""
        return f"{self.field}: accepted is {self.accepted}"


class InvalidRule(CadenceRefusal):
    """A combination of recurrence fields that describes no grid of dates."""


class InvalidWorkingDays(CadenceRefusal):
    """A working week, a closing day or a range of days away that cannot be."""


class InvalidNotice(CadenceRefusal):
    """Numbers of working days that would put the steps of a cycle in the wrong order."""


class InvalidPeriod(CadenceRefusal):
    """A pause, an agreement or a period judged whose days are out of order."""


class InvalidMove(CadenceRefusal):
    """A day that would put a meeting before the one before it or past the one after it."""


class UnknownZone(CadenceRefusal):
    """A name that the time zone database does not hold."""


class UnknownCountry(CadenceRefusal):
    """A country for which no public holidays are known."""


class UnknownSubdivision(UnknownCountry):
    """A part of a country for which no public holidays are known."""


class NoWorkingDay(CadenceRefusal):
    """No working day within reach: the working weeks share none, or somebody is away for years."""
