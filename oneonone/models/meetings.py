"""Meetings of a line: their times, moves, whether they were held, and their records."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar, Self

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from accounts.models import Person

from .base import WORDS, Row, limit
from .lines import Interval, Line
from .sides import Side

# Over or given up, and not carried on yet.
TO_CARRY = (
    Q(state__in=("closed", "called_off", "not_held")) | Q(state="under_way", given_up_at__isnull=False)
) & Q(carried_at__isnull=True)


class MeetingQuerySet(models.QuerySet["Meeting"]):
    def visible_to(self, person: Person) -> Self:
        """Meetings of the person's open lines, and closed meetings of ended lines for their report."""
        return self.filter(
            Q(line__manager=person, line__ended_at__isnull=True)
            | Q(line__report=person, line__ended_at__isnull=True)
            | Q(line__report=person, line__ended_at__isnull=False, state=Meeting.State.CLOSED)
        )

    def coming(self) -> Self:
        """Meetings that are planned, issued or under way."""
        return self.filter(state__in=(Meeting.State.PLANNED, Meeting.State.ISSUED, Meeting.State.UNDER_WAY))


class Meeting(Row):
    """One one-on-one. A move changes the row's times, not its identity.

    Instants are UTC; ``zone`` is where the time was agreed. The five instants are recomputed while what
    they depend on changes and stand still once they have fired. ``is_next`` marks the one that was made last
    from the line's interval: it is given up only once that meeting is no longer ahead, so that the database
    refuses a second one.

    What jobs have done stands here too: ``reminded_version``, ``prepare_version`` and ``asked_version`` are
    the schedule version that the reminders of the day and to prepare, and the question "did you meet?", were
    owed for, ``left_asked_at`` and
    ``nudged_at`` when the sides were asked about a meeting left under way and about its record, and
    ``cleared_at`` when the meetings before it that nobody answered about were given up.
    """

    class State(models.TextChoices):
        PLANNED = "planned", _("planned")
        ISSUED = "issued", _("issued")
        UNDER_WAY = "under_way", _("under way")
        CLOSED = "closed", _("closed")
        CALLED_OFF = "called_off", _("called off")
        NOT_HELD = "not_held", _("not held")

    class Kind(models.TextChoices):
        ORDINARY = "ordinary", _("one-on-one")
        REVIEW = "review", _("review conversation")

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="meetings")
    kind = models.CharField(max_length=8, choices=Kind, default=Kind.ORDINARY)
    is_extra = models.BooleanField(default=False)
    is_next = models.BooleanField(default=False)
    interval = models.ForeignKey(Interval, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    nominal_date = models.DateField(null=True, blank=True)
    occurrence_key = models.CharField(max_length=80)
    state = models.CharField(max_length=10, choices=State, default=State.PLANNED)
    starts_at = models.DateTimeField()
    minutes = models.PositiveSmallIntegerField()
    zone = models.CharField(max_length=64)
    place = models.CharField(max_length=200, blank=True, default="")
    call_link = models.CharField(max_length=500, blank=True, default="")
    invite_at = models.DateTimeField()
    issue_at = models.DateTimeField()
    prepare_by_at = models.DateTimeField()
    today_at = models.DateTimeField()
    record_at = models.DateTimeField()
    invited_at = models.DateTimeField(null=True, blank=True)
    invited_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    invitation_words = models.CharField(max_length=500, blank=True, default="")
    issued_at = models.DateTimeField(null=True, blank=True)
    confirmed_at = models.DateTimeField(null=True, blank=True)
    began_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    held_on = models.DateField(null=True, blank=True)
    called_off_at = models.DateTimeField(null=True, blank=True)
    called_off_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    given_up_at = models.DateTimeField(null=True, blank=True)
    carried_at = models.DateTimeField(null=True, blank=True)
    reminded_version = models.PositiveIntegerField(default=0)
    prepare_version = models.PositiveIntegerField(default=0)
    asked_version = models.PositiveIntegerField(default=0)
    left_asked_at = models.DateTimeField(null=True, blank=True)
    nudged_at = models.DateTimeField(null=True, blank=True)
    cleared_at = models.DateTimeField(null=True, blank=True)
    current = models.ForeignKey(
        "oneonone.Placement", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    current_since = models.DateTimeField(null=True, blank=True)
    schedule_version = models.PositiveIntegerField(default=1)
    calendar_sequence = models.PositiveIntegerField(default=0)
    uid = models.CharField(max_length=80, unique=True)
    seq = models.PositiveBigIntegerField(default=0)
    version = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField()

    objects = MeetingQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["starts_at", "id"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["line", "occurrence_key"], name="meeting_one_an_occurrence"),
            models.UniqueConstraint(
                fields=["line"],
                condition=Q(state="under_way", given_up_at__isnull=True),
                name="meeting_one_under_way_a_line",
            ),
            models.UniqueConstraint(
                fields=["line"], condition=Q(is_next=True), name="meeting_one_next_a_line"
            ),
            models.CheckConstraint(condition=Q(minutes__gte=10, minutes__lte=240), name="meeting_minutes"),
            models.CheckConstraint(
                condition=Q(is_extra=True) | Q(interval__isnull=False, nominal_date__isnull=False),
                name="meeting_has_its_occurrence",
            ),
            models.CheckConstraint(
                condition=~Q(state="closed") | Q(closed_at__isnull=False, held_on__isnull=False),
                name="meeting_closed_was_held",
            ),
            limit("invitation_words", 500, table="meeting"),
            limit("place", 200, table="meeting"),
        ]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["line", "starts_at"], name="meeting_line_start"),
            models.Index(fields=["state", "starts_at"], name="meeting_state_start"),
            # What each job finds by: a meeting that the job has dealt with is in its index no more.
            models.Index(
                fields=["invite_at"],
                condition=Q(state="planned", invited_at__isnull=True),
                name="meeting_to_invite",
            ),
            models.Index(fields=["issue_at"], condition=Q(state="planned"), name="meeting_to_issue"),
            models.Index(
                fields=["starts_at"],
                condition=Q(state__in=("planned", "issued"), reminded_version__lt=F("schedule_version")),
                name="meeting_to_remind_of",
            ),
            models.Index(
                fields=["prepare_by_at"],
                condition=Q(state="issued", prepare_version__lt=F("schedule_version")),
                name="meeting_to_prepare_for",
            ),
            models.Index(
                fields=["starts_at"],
                condition=Q(state__in=("planned", "issued"), asked_version__lt=F("schedule_version")),
                name="meeting_to_ask_about",
            ),
            models.Index(
                fields=["began_at"],
                condition=Q(state="under_way", left_asked_at__isnull=True),
                name="meeting_left_under_way",
            ),
            models.Index(
                fields=["record_at"],
                condition=Q(state="closed", nudged_at__isnull=True),
                name="meeting_to_nudge_about",
            ),
            models.Index(
                fields=["invite_at"],
                condition=Q(state__in=("planned", "issued"), cleared_at__isnull=True),
                name="meeting_to_clear_before",
            ),
            models.Index(
                fields=["starts_at"],
                condition=Q(is_next=True, state__in=("planned", "issued")),
                name="meeting_next_ahead",
            ),
            models.Index(
                fields=["starts_at"],
                condition=Q(is_next=True, state__in=("under_way", "closed", "called_off", "not_held")),
                name="meeting_next_begun",
            ),
            models.Index(fields=["starts_at"], condition=TO_CARRY, name="meeting_to_carry"),
        ]

    @property
    def is_coming(self) -> bool:
        return self.state in (self.State.PLANNED, self.State.ISSUED, self.State.UNDER_WAY)

    @property
    def minute_zero(self) -> dt.datetime:
        """The instant from which the minutes of its order are counted.

        This is the agreed start. For a meeting that began early, or after its agreed end, it is the real
        start. A meeting that began late but before its agreed end keeps that end and has fewer minutes left.
        """
        began = self.began_at
        if began is None or self.starts_at <= began <= self.starts_at + dt.timedelta(minutes=self.minutes):
            return self.starts_at
        return began

    @property
    def meant_until(self) -> dt.datetime:
        """The planned end, counted from ``minute_zero``."""
        return self.minute_zero + dt.timedelta(minutes=self.minutes)


class Move(Row):
    """One move of a meeting."""

    meeting = models.ForeignKey(Meeting, on_delete=models.PROTECT, related_name="moves")
    from_start = models.DateTimeField()
    to_start = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering: ClassVar[list[str]] = ["at", "id"]
        constraints: ClassVar[list[Any]] = [
            models.CheckConstraint(condition=~Q(from_start=F("to_start")), name="move_changes_the_start")
        ]


class HeldClaim(Row):
    """One side's answer to whether a meeting was held, and on which day."""

    meeting = models.ForeignKey(Meeting, on_delete=models.PROTECT, related_name="claims")
    side = models.CharField(max_length=8, choices=Side)
    held = models.BooleanField()
    day = models.DateField(null=True, blank=True)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["meeting", "side"], name="held_claim_one_a_side"),
            models.CheckConstraint(
                condition=Q(held=True, day__isnull=False) | Q(held=False, day__isnull=True),
                name="held_claim_names_its_day",
            ),
        ]


class Snapshot(Row):
    """The record at closing, as references to its rows."""

    meeting = models.OneToOneField(Meeting, on_delete=models.PROTECT, related_name="snapshot")
    by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    at = models.DateTimeField()
    rows = models.JSONField()


class Seen(Row):
    """One side has seen the record. This does not mean that they agree."""

    meeting = models.ForeignKey(Meeting, on_delete=models.PROTECT, related_name="seen")
    side = models.CharField(max_length=8, choices=Side)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["meeting", "side"], name="seen_once_a_side")
        ]


class RecordLine(Row):
    """One line of the record. Only its author can edit it, until ``Meeting.record_at``."""

    class Kind(models.TextChoices):
        SAID = "said", _("said")
        DECIDED = "decided", _("decided")
        TAKEN_ON = "taken_on", _("taken on")

    meeting = models.ForeignKey(Meeting, on_delete=models.PROTECT, related_name="record_lines")
    placement = models.ForeignKey(
        "oneonone.Placement", on_delete=models.PROTECT, null=True, blank=True, related_name="record_lines"
    )
    author = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=8, choices=Kind)
    words = models.TextField(blank=True, default="")
    blob = models.BinaryField(null=True, blank=True)
    key_number = models.PositiveIntegerField(null=True, blank=True)
    commitment = models.ForeignKey(
        "oneonone.Commitment", on_delete=models.PROTECT, null=True, blank=True, related_name="record_lines"
    )
    at = models.DateTimeField()
    changed_at = models.DateTimeField(null=True, blank=True)
    removed_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering: ClassVar[list[str]] = ["at", "id"]
        constraints: ClassVar[list[Any]] = [
            models.CheckConstraint(
                condition=Q(kind="taken_on", commitment__isnull=False, words="", blob__isnull=True)
                | (~Q(kind="taken_on") & Q(removed_at__isnull=False, words="", blob__isnull=True))
                | (
                    ~Q(kind="taken_on")
                    & (
                        (Q(blob__isnull=True) & ~Q(words=""))
                        | Q(blob__isnull=False, words="", key_number__isnull=False)
                    )
                ),
                name="record_line_words_or_blob",
            ),
            limit("words", WORDS, table="record_line"),
        ]


class RecordAddition(Row):
    """A dated addition to a record that can no longer be edited."""

    meeting = models.ForeignKey(Meeting, on_delete=models.PROTECT, related_name="additions")
    author = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    words = models.TextField()
    at = models.DateTimeField()
    removed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["at", "id"]
        constraints: ClassVar[list[Any]] = [limit("words", WORDS, table="record_addition")]
