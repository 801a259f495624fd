"""Notices, mails, state of the background jobs, client keys and audit events."""

from __future__ import annotations

from datetime import time
from typing import Any, ClassVar, Self

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from accounts.models import Invitation, Person

from .base import SYSTEM, Row
from .followthrough import Commitment
from .lines import Line
from .meetings import Meeting


class NoticeQuerySet(models.QuerySet["Notice"]):
    def visible_to(self, person: Person) -> Self:
        return self.filter(person=person, cancelled_at__isnull=True)


class Notice(Row):
    """One notice to one person. The unique key ensures that each notice exists once.

    ``subject`` is the id of the row it is about; ``about`` is the person it is about, if it belongs to no
    line. No text of people is stored here. A notice can be made in advance: it shows from ``owed_at`` on.
    ``mailed`` means that it was decided whether to mail it, not that a mail was sent.
    """

    class Kind(models.TextChoices):
        INVITE = "invite", _("topics are asked for")
        ISSUED = "issued", _("the order is issued")
        PREPARE = "prepare", _("the last day to prepare")
        TODAY = "today", _("the one-on-one is today")
        RECORD = "record", _("look at the record")
        MOVED = "moved", _("the time has changed")
        EXTRA = "extra", _("an extra one-on-one is planned")
        CLOCKS = "clocks", _("the clocks change otherwise than was known")
        CALLED_OFF = "called_off", _("a one-on-one is called off")
        UNANSWERED = "unanswered", _("did you meet?")
        LEFT_OPEN = "left_open", _("a meeting was left under way")
        CADENCE = "cadence", _("the interval runs out")
        COMMITMENT = "commitment", _("a commitment is due")
        CHOICE = "choice", _("a commitment was carried twice")
        OFFERED = "offered", _("a commitment is offered")
        PROPOSAL = "proposal", _("waits for your answer")
        AGREED = "agreed", _("what one proposed is agreed to")
        DECLINED = "declined", _("what one proposed is declined")
        THIRD_TIME = "third_time", _("not reached three times")
        JOINED = "joined", _("the other side has joined")
        PAUSED = "paused", _("a reporting line is paused")
        RESUMED = "resumed", _("a reporting line is no longer paused")
        LINE_ENDED = "line_ended", _("a reporting line has ended")
        FACTOR_TAKEN = "factor_taken", _("an administrator took the second factors away")
        FACTOR_RESET = "factor_reset", _("one took somebody's second factors away")
        NEW_PASSWORD = "new_password", _("the password was set with a link")

    privacy: ClassVar[str] = SYSTEM

    kind = models.CharField(max_length=12, choices=Kind)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="notices")
    subject = models.UUIDField()
    schedule_version = models.PositiveIntegerField(default=0)
    occurrence = models.CharField(max_length=40, blank=True, default="")
    line = models.ForeignKey(Line, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    meeting = models.ForeignKey(Meeting, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    commitment = models.ForeignKey(
        Commitment, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    about = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    at_once = models.BooleanField(default=False)
    owed_at = models.DateTimeField()
    read_at = models.DateTimeField(null=True, blank=True)
    cancelled_at = models.DateTimeField(null=True, blank=True)
    mailed = models.BooleanField(default=False)

    objects = NoticeQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["-owed_at", "id"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(
                fields=["kind", "person", "subject", "schedule_version", "occurrence"], name="notice_once"
            )
        ]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["person", "read_at"], name="notice_person_unread"),
            models.Index(fields=["owed_at"], condition=Q(mailed=False), name="notice_to_mail"),
        ]


class MailWishes(Row):
    """When a person wants their mail of reminders, and of what they want none. Without a row: 08:00, of all.

    ``off`` holds names of ``selectors.mail_wishes.SUBJECTS``.
    """

    privacy: ClassVar[str] = SYSTEM
    USUAL: ClassVar[time] = time(8)

    person = models.OneToOneField(Person, on_delete=models.CASCADE, related_name="+")
    digest_at = models.TimeField(default=USUAL)
    off = models.JSONField(default=list, blank=True)


class Mail(Row):
    """One mail owed. *Claimed* by one process, *sending* from the first byte of its text on.

    A claim whose process is gone is given back, since nothing was sent. A mail that was *sending* then is
    *unknown*: it may have arrived, and is never resent.

    ``subject`` and ``body`` are used only for account mail and invitations, whose text cannot be composed
    again later. The body can contain codes and links, so it is sealed with the key-encryption key
    (``selectors.mailtexts``) and emptied once the mail is settled.
    """

    class State(models.TextChoices):
        QUEUED = "queued", _("queued")
        CLAIMED = "claimed", _("claimed")
        SENDING = "sending", _("sending")
        SENT = "sent", _("sent")
        FAILED = "failed", _("failed")
        CANCELLED = "cancelled", _("cancelled")
        UNKNOWN = "unknown", _("unknown")

    class Kind(models.TextChoices):
        DIGEST = "digest", _("notices of a day")
        ISSUED = "issued", _("agendas of a day")
        NOTICE = "notice", _("one notice at once")
        ACCOUNT = "account", _("about the account")
        INVITATION = "invitation", _("an invitation to join")

    privacy: ClassVar[str] = SYSTEM

    kind = models.CharField(max_length=10, choices=Kind)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    notice = models.OneToOneField(
        Notice, on_delete=models.PROTECT, null=True, blank=True, related_name="mail"
    )
    invitation = models.ForeignKey(
        Invitation, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    local_day = models.DateField(null=True, blank=True)
    digest = models.PositiveSmallIntegerField(default=0)
    notices = models.ManyToManyField(Notice, related_name="digests")
    to_address = models.EmailField(max_length=254)
    subject = models.CharField(max_length=200, blank=True, default="")
    body = models.TextField(blank=True, default="")
    state = models.CharField(max_length=10, choices=State, default=State.QUEUED)
    message_id = models.CharField(max_length=120, unique=True)
    not_before = models.DateTimeField()
    attempts = models.PositiveSmallIntegerField(default=0)
    claim = models.UUIDField(null=True, blank=True)
    claimed_at = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    error = models.CharField(max_length=60, blank=True, default="")
    created_at = models.DateTimeField()
    looked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["not_before", "created_at", "id"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(
                fields=["person", "local_day", "digest"],
                condition=Q(kind="digest"),
                name="mail_one_digest_a_day",
            ),
            models.UniqueConstraint(
                fields=["person", "local_day"], condition=Q(kind="issued"), name="mail_one_of_agendas_a_day"
            ),
            models.CheckConstraint(
                condition=~Q(kind__in=("digest", "issued"))
                | Q(person__isnull=False, local_day__isnull=False),
                name="mail_digest_of_a_day",
            ),
            models.CheckConstraint(
                condition=~Q(kind="notice") | Q(notice__isnull=False), name="mail_of_a_notice"
            ),
            models.CheckConstraint(
                condition=~Q(kind="invitation") | Q(invitation__isnull=False), name="mail_of_an_invitation"
            ),
        ]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["state", "not_before"], name="mail_state_due")
        ]


class Tick(Row):
    """One run of a schedule has been claimed. The unique key lets only one of several schedulers do it."""

    privacy: ClassVar[str] = SYSTEM

    schedule = models.CharField(max_length=40)
    due_at = models.DateTimeField()

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["schedule", "due_at"], name="tick_once")
        ]


class JobHealth(Row):
    """When a job last did something well, and how many rows it had to push forward.

    The row named ``RUN`` is the heartbeat: when all jobs were last asked, whether or not anything was due.
    """

    RUN = "run"

    privacy: ClassVar[str] = SYSTEM

    job = models.CharField(max_length=40, unique=True)
    last_success_at = models.DateTimeField(null=True, blank=True)
    last_failure_at = models.DateTimeField(null=True, blank=True)
    failures = models.PositiveIntegerField(default=0)


class Drain(Row):
    """The one drain under way. Whoever rings meanwhile asks it to look ``again`` in place of a second one.

    ``token`` is the drain's claim and ``until`` how long it holds; a drain that is killed is taken over then.
    """

    privacy: ClassVar[str] = SYSTEM

    name = models.CharField(max_length=10, unique=True)
    token = models.UUIDField(null=True, blank=True)
    until = models.DateTimeField(null=True, blank=True)
    again = models.BooleanField(default=False)


class Deferral(Row):
    """A row a job could not deal with: pushed forward so that it starves no other.

    ``error`` is the name of the fault; empty where there was only nothing to do yet. A row that has failed
    too often is not tried again until an administrator says so: ``until`` is empty then.
    """

    privacy: ClassVar[str] = SYSTEM

    job = models.CharField(max_length=40)
    subject = models.UUIDField()
    until = models.DateTimeField(null=True, blank=True)
    attempts = models.PositiveSmallIntegerField(default=1)
    error = models.CharField(max_length=60, blank=True, default="")

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["job", "subject"], name="deferral_one_a_subject")
        ]


class ClientKey(Row):
    """A client key of an act that has been done. The same key again returns the same row."""

    privacy: ClassVar[str] = SYSTEM

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    key = models.UUIDField()
    act = models.CharField(max_length=40)
    subject = models.UUIDField(null=True, blank=True)
    at = models.DateTimeField()

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["person", "key"], name="client_key_once")
        ]


class AuditEvent(Row):
    """Who did what to people, lines and settings. It never contains text of a topic, note or record."""

    privacy: ClassVar[str] = SYSTEM

    at = models.DateTimeField()
    actor = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    act = models.CharField(max_length=60)
    subject = models.UUIDField(null=True, blank=True)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    facts = models.JSONField(default=dict)

    class Meta:
        ordering: ClassVar[list[str]] = ["-at", "id"]
        indexes: ClassVar[list[models.Index]] = [models.Index(fields=["-at"], name="audit_at")]
