"""Reporting lines, the intervals agreed on them, and their pauses."""

from __future__ import annotations

from datetime import date
from typing import Any, ClassVar, Self

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from accounts.models import Person

from .base import NAME, Row, limit
from .sides import Side


class LineQuerySet(models.QuerySet["Line"]):
    def with_side(self, person: Person) -> Self:
        """Lines on which ``person`` is or was one side, ended ones too."""
        return self.filter(Q(manager=person) | Q(report=person))

    def visible_to(self, person: Person) -> Self:
        """Lines whose pages ``person`` may read: open ones of either side, ended ones of the report."""
        return self.filter(Q(manager=person, ended_at__isnull=True) | Q(report=person))

    def open(self) -> Self:
        return self.filter(ended_at__isnull=True)


def _first_word(name: str) -> str:
    return name.split()[0] if name.strip() else name


class Line(Row):
    """One manager and one report, from a day to a day."""

    class Start(models.TextChoices):
        JOINED = "joined", _("joined")
        INVITED = "invited", _("invited")
        ALONE = "alone", _("alone")

    manager = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    report = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    manager_name = models.CharField(max_length=NAME, blank=True, default="")
    report_name = models.CharField(max_length=NAME, blank=True, default="")
    start = models.CharField(max_length=8, choices=Start)
    invitation = models.OneToOneField(
        "accounts.Invitation", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    starts_on = models.DateField()
    ends_on = models.DateField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    tree_confirmed_at = models.DateTimeField(null=True, blank=True)
    tree_confirmed_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    created_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField()
    invite_working_days = models.PositiveSmallIntegerField(null=True, blank=True)
    issue_working_days = models.PositiveSmallIntegerField(null=True, blank=True)
    prepare_working_days = models.PositiveSmallIntegerField(null=True, blank=True)
    record_working_days = models.PositiveSmallIntegerField(null=True, blank=True)
    manager_uses_history = models.BooleanField(default=True)
    report_uses_history = models.BooleanField(default=True)
    version = models.PositiveIntegerField(default=1)

    objects = LineQuerySet.as_manager()

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(
                fields=["manager", "report"], condition=Q(ended_at__isnull=True), name="line_one_open_a_pair"
            ),
            models.CheckConstraint(
                condition=Q(start="joined", manager__isnull=False, report__isnull=False)
                | (
                    Q(start__in=("invited", "alone"))
                    & (
                        Q(manager__isnull=False, report__isnull=True, manager_name="")
                        | Q(manager__isnull=True, report__isnull=False, report_name="")
                    )
                ),
                name="line_sides_fit_its_start",
            ),
            models.CheckConstraint(
                condition=~Q(start="invited") | Q(invitation__isnull=False),
                name="line_invited_has_invitation",
            ),
            models.CheckConstraint(
                condition=Q(manager__isnull=True) | Q(report__isnull=True) | ~Q(manager=F("report")),
                name="line_of_two_people",
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True, ends_on__isnull=True)
                | Q(ended_at__isnull=False, ends_on__gte=F("starts_on")),
                name="line_ends_after_it_starts",
            ),
            limit("manager_name", NAME, table="line"),
            limit("report_name", NAME, table="line"),
        ]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["manager", "ended_at"], name="line_manager_open"),
            models.Index(fields=["report", "ended_at"], name="line_report_open"),
        ]

    @property
    def is_open(self) -> bool:
        return self.ended_at is None

    def side_of(self, person: Person) -> Side | None:
        """Which side ``person`` is on, or None for everybody else."""
        if self.manager_id == person.pk:
            return Side.MANAGER
        if self.report_id == person.pk:
            return Side.REPORT
        return None

    def side_for(self, person: Person) -> Side:
        """The side of somebody the door let in as one; LookupError for everybody else."""
        side = self.side_of(person)
        if side is None:
            raise LookupError("not a side of this line")
        return side

    @property
    def someone(self) -> Person:
        """A side with an account: every line has one, by constraint; the manager when both have."""
        person = self.manager or self.report
        if person is None:
            raise LookupError("a line without an account")
        return person

    def person_on(self, side: Side) -> Person | None:
        return self.manager if side is Side.MANAGER else self.report

    def name_on(self, side: Side) -> str:
        """The name to show for a side: the account's, or the bare name of somebody not joined."""
        person = self.person_on(side)
        if person is not None:
            return person.called
        return self.manager_name if side is Side.MANAGER else self.report_name

    def first_name_on(self, side: Side) -> str:
        """The first word of a side's name, where both people are meant; all of it where that names both.

        Somebody who was erased is said to be that.
        """
        name, others = self.name_on(side), self.name_on(side.other)
        person = self.person_on(side)
        first = _first_word(name)
        if (person is not None and not person.name) or _first_word(others) == first:
            return name
        return first


class IntervalQuerySet(models.QuerySet["Interval"]):
    def in_use(self) -> Self:
        """Intervals that make dates: agreed, or proposed by the manager and not declined. Oldest first."""
        return self.filter(withdrawn_at__isnull=True).order_by("effective_from", "proposed_at", "id")


class Interval(Row):
    """The cadence of a line from a day on. Rows are added, never changed, once they have taken effect.

    ``withdrawn_at`` is set when a manager's proposal was declined or replaced: the row makes no dates since.

    Exactly one way to choose the day: a weekday (weeks), or for months an ordinal weekday, a day of the
    month (31 is the last of a short month), or the last working day.
    """

    class Unit(models.TextChoices):
        WEEKS = "weeks", _("weeks")
        MONTHS = "months", _("months")

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="intervals")
    effective_from = models.DateField()
    every = models.PositiveSmallIntegerField()
    unit = models.CharField(max_length=6, choices=Unit)
    anchor = models.DateField()
    weekday = models.PositiveSmallIntegerField(null=True, blank=True)
    ordinal = models.SmallIntegerField(null=True, blank=True)
    day = models.PositiveSmallIntegerField(null=True, blank=True)
    last_working_day = models.BooleanField(default=False)
    second_day = models.PositiveSmallIntegerField(null=True, blank=True)
    time = models.TimeField()
    minutes = models.PositiveSmallIntegerField()
    zone = models.CharField(max_length=64)
    place = models.CharField(max_length=200, blank=True, default="")
    call_link = models.CharField(max_length=500, blank=True, default="")
    proposed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    proposed_at = models.DateTimeField()
    agreed_at = models.DateTimeField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    objects = IntervalQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["effective_from", "proposed_at", "id"]
        constraints: ClassVar[list[Any]] = [
            models.CheckConstraint(
                condition=Q(unit="weeks", every__gte=1, every__lte=52)
                | Q(unit="months", every__gte=1, every__lte=12),
                name="interval_one_week_to_twelve_months",
            ),
            models.CheckConstraint(
                condition=Q(
                    unit="weeks", weekday__gte=1, weekday__lte=7, ordinal__isnull=True, day__isnull=True
                )
                | (
                    Q(unit="months")
                    & (
                        Q(weekday__gte=1, weekday__lte=7, ordinal__in=(1, 2, 3, 4, 5, -1), day__isnull=True)
                        | Q(weekday__isnull=True, ordinal__isnull=True, day__gte=1, day__lte=31)
                        | Q(
                            weekday__isnull=True,
                            ordinal__isnull=True,
                            day__isnull=True,
                            last_working_day=True,
                        )
                    )
                ),
                name="interval_says_which_day",
            ),
            models.CheckConstraint(condition=Q(minutes__gte=10, minutes__lte=240), name="interval_minutes"),
            limit("place", 200, table="interval"),
            limit("call_link", 500, table="interval"),
        ]


class Pause(Row):
    """A period without meetings. No reason is stored."""

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="pauses")
    first = models.DateField()
    last = models.DateField(null=True, blank=True)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering: ClassVar[list[str]] = ["first", "id"]
        constraints: ClassVar[list[Any]] = [
            models.CheckConstraint(
                condition=Q(last__isnull=True) | Q(last__gte=F("first")), name="pause_ends_after_it_begins"
            ),
            models.UniqueConstraint(
                fields=["line"], condition=Q(last__isnull=True), name="pause_one_open_a_line"
            ),
        ]

    def covers(self, day: date) -> bool:
        return self.first <= day and (self.last is None or day <= self.last)
