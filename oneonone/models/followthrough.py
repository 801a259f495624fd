"""Commitments, their carries, date changes, private plans and reminders."""

from __future__ import annotations

from datetime import date
from typing import Any, ClassVar, Self

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from accounts.models import Person

from .base import SYSTEM, Row, Sealed, limit
from .lines import Line
from .meetings import Meeting
from .sides import Side

ACTION = 300
HOW_KNOWN = 500


class CommitmentQuerySet(models.QuerySet["Commitment"]):
    def visible_to(self, person: Person) -> Self:
        """Commitments of the person's open lines, and those that the person owns."""
        return self.filter(
            Q(owner=person) | Q(line__ended_at__isnull=True, line__manager=person) | Q(line__report=person)
        )

    def open(self) -> Self:
        return self.filter(state=Commitment.State.OPEN)


class Commitment(Row):
    """One owner, one action, a date, and how both will know. The row stays the same over all meetings.

    ``original_date`` never changes. Each change of ``current_date`` is stored as a Revision. While
    ``confirmed_at`` is empty the commitment is *offered*: one side typed it for the other. ``remind_at`` is
    when the owner is next reminded of the date; empty if no reminder is due. ``kept_at`` is when the owner
    last kept the commitment as it is after a carry.
    """

    class State(models.TextChoices):
        OPEN = "open", _("open")
        DONE = "done", _("done")
        DROPPED = "dropped", _("dropped")
        HANDED_OVER = "handed_over", _("handed over")
        BROUGHT_ON = "brought_on", _("moved to another line")

    class Forecast(models.TextChoices):
        WILL_MAKE = "will_make", _("will make the date")
        MAY_SLIP = "may_slip", _("may slip")

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="commitments")
    author = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    owner = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    owner_side = models.CharField(max_length=8, choices=Side)
    action = models.CharField(max_length=ACTION, blank=True, default="")
    how_known = models.CharField(max_length=HOW_KNOWN, blank=True, default="")
    blob = models.BinaryField(null=True, blank=True)
    key_number = models.PositiveIntegerField(null=True, blank=True)
    original_date = models.DateField()
    current_date = models.DateField()
    state = models.CharField(max_length=12, choices=State, default=State.OPEN)
    forecast = models.CharField(max_length=10, choices=Forecast, default=Forecast.WILL_MAKE)
    remind_at = models.DateTimeField(null=True, blank=True)
    confirmed_at = models.DateTimeField(null=True, blank=True)
    kept_at = models.DateTimeField(null=True, blank=True)
    made_in = models.ForeignKey(Meeting, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    continues = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="continued_by"
    )
    created_at = models.DateTimeField()
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    settled_cause = models.CharField(max_length=12, blank=True, default="")
    removed_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    objects = CommitmentQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["current_date", "created_at", "id"]
        constraints: ClassVar[list[Any]] = [
            models.CheckConstraint(
                condition=(Q(blob__isnull=True, removed_at__isnull=True) & ~Q(action=""))
                | Q(blob__isnull=False, key_number__isnull=False, action="", how_known="")
                | Q(blob__isnull=True, removed_at__isnull=False, action="", how_known=""),
                name="commitment_words_or_blob",
            ),
            models.CheckConstraint(
                condition=Q(state="open", settled_at__isnull=True)
                | ~Q(state="open") & Q(settled_at__isnull=False),
                name="commitment_settled_once",
            ),
            limit("action", ACTION, table="commitment"),
            limit("how_known", HOW_KNOWN, table="commitment"),
        ]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["owner", "state", "current_date"], name="commitment_owner_open"),
            models.Index(fields=["line", "state"], name="commitment_line_open"),
            models.Index(
                fields=["remind_at"],
                condition=Q(remind_at__isnull=False, state="open"),
                name="commitment_to_remind",
            ),
        ]

    @property
    def is_offered(self) -> bool:
        return self.state == self.State.OPEN and self.confirmed_at is None

    def is_past(self, today: date) -> bool:
        return self.state == self.State.OPEN and self.current_date < today


class CarryQuerySet(models.QuerySet["Carry"]):
    def counted(self) -> Self:
        """Carries that count: the meeting was held, after the commitment's date at that time.

        A commitment that is due on the day of the meeting is not late yet, so its carry does not count.
        """
        return self.filter(cause=Carry.Cause.CLOSED, date_then__lt=F("from_meeting__held_on"))


class Carry(Row):
    """An open commitment that is carried from one meeting to the next. Unique for the two."""

    class Cause(models.TextChoices):
        CLOSED = "closed", _("closed")
        CALLED_OFF = "called_off", _("called off")
        NOT_HELD = "not_held", _("not held")
        ENDED = "ended", _("the line ended")

    commitment = models.ForeignKey(Commitment, on_delete=models.PROTECT, related_name="carries")
    from_meeting = models.ForeignKey(Meeting, on_delete=models.PROTECT, related_name="carried_out")
    to_meeting = models.ForeignKey(
        Meeting, on_delete=models.PROTECT, null=True, blank=True, related_name="carried_in"
    )
    cause = models.CharField(max_length=10, choices=Cause)
    date_then = models.DateField()
    at = models.DateTimeField()

    objects = CarryQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["at", "id"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["commitment", "from_meeting"], name="carry_once_a_meeting"),
            models.CheckConstraint(
                condition=Q(to_meeting__isnull=True) | ~Q(to_meeting=F("from_meeting")),
                name="carry_to_another_meeting",
            ),
        ]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["commitment"], condition=Q(to_meeting__isnull=True), name="carry_waiting"),
        ]


class Revision(Row):
    """A change of a commitment's current date."""

    commitment = models.ForeignKey(Commitment, on_delete=models.PROTECT, related_name="revisions")
    from_date = models.DateField()
    to_date = models.DateField()
    reason = models.CharField(max_length=200, blank=True, default="")
    basis = models.CharField(max_length=200, blank=True, default="")
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering: ClassVar[list[str]] = ["at", "id"]
        constraints: ClassVar[list[Any]] = [
            limit("reason", 200, table="revision"),
            limit("basis", 200, table="revision"),
        ]


class CommitmentPlan(Sealed):
    """The owner's private reasons and plan for a commitment."""

    commitment = models.ForeignKey(Commitment, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["owner", "commitment"], name="commitment_plan_one_an_owner")
        ]


class CommitmentCue(Row):
    """The day on which the owner wants a reminder. It is not in the plan, because jobs read no private rows.

    Only the owner sees it. No page of the other side and no snapshot joins it.
    """

    privacy: ClassVar[str] = SYSTEM

    commitment = models.OneToOneField(Commitment, on_delete=models.PROTECT, related_name="+")
    owner = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    on = models.DateField()
    remind_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["remind_at"], condition=Q(remind_at__isnull=False), name="cue_to_remind")
        ]
