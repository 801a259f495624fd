"""Topics, their placements in meetings, the orders of meetings, and proposals."""

from __future__ import annotations

from typing import Any, ClassVar, Self

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from accounts.models import Person

from .base import TITLE, WORDS, Row, limit
from .lines import Line
from .meetings import Meeting
from .sides import Side


class TopicQuerySet(models.QuerySet["Topic"]):
    def visible_to(self, person: Person) -> Self:
        """Topics of lines whose pages the person may read."""
        return self.filter(
            Q(line__manager=person, line__ended_at__isnull=True)
            | Q(line__report=person, line__ended_at__isnull=True)
        )


class Topic(Row):
    """Something either side wants to discuss, in one meeting or several.

    Minutes are whole minutes. On an *alone* line the text is sealed in ``blob``, and ``title`` and ``detail``
    are empty.
    """

    class Kind(models.TextChoices):
        UPDATE = "update", _("update")
        IDEA = "idea", _("idea")
        QUESTION = "question", _("question")
        OBSTACLE = "obstacle", _("obstacle")
        ACHIEVEMENT = "achievement", _("achievement")
        FEEDBACK = "feedback", _("feedback")
        GROWTH = "growth", _("growth")

    class Outcome(models.TextChoices):
        DECIDE = "decide", _("decide")
        ADVISE = "advise", _("advise")
        SOLVE = "solve", _("solve")
        INFORM = "inform", _("inform")

    class State(models.TextChoices):
        OPEN = "open", _("open")
        PARKED = "parked", _("parked")
        FINISHED = "finished", _("finished")
        WITHDRAWN = "withdrawn", _("withdrawn")

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="topics")
    raiser = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    side = models.CharField(max_length=8, choices=Side)
    is_joint = models.BooleanField(default=False)
    title = models.CharField(max_length=TITLE, blank=True, default="")
    detail = models.TextField(blank=True, default="")
    blob = models.BinaryField(null=True, blank=True)
    key_number = models.PositiveIntegerField(null=True, blank=True)
    kind = models.CharField(max_length=12, choices=Kind, default=Kind.UPDATE)
    outcome_wanted = models.CharField(max_length=8, choices=Outcome, default=Outcome.INFORM)
    minutes_wanted = models.PositiveSmallIntegerField()
    minutes_least = models.PositiveSmallIntegerField()
    state = models.CharField(max_length=10, choices=State, default=State.OPEN)
    is_sensitive = models.BooleanField(default=False)
    every_nth = models.PositiveSmallIntegerField(null=True, blank=True)
    removed_at = models.DateTimeField(null=True, blank=True)
    created_at = models.DateTimeField()
    changed_at = models.DateTimeField()
    version = models.PositiveIntegerField(default=1)
    after = models.ManyToManyField(
        "self", symmetrical=False, through="oneonone.TopicAfter", related_name="before"
    )

    objects = TopicQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["created_at", "id"]
        constraints: ClassVar[list[Any]] = [
            models.CheckConstraint(
                condition=(Q(blob__isnull=True, removed_at__isnull=True) & ~Q(title=""))
                | Q(blob__isnull=False, key_number__isnull=False, title="", detail="")
                | Q(blob__isnull=True, removed_at__isnull=False, title="", detail=""),
                name="topic_words_or_blob",
            ),
            models.CheckConstraint(
                condition=Q(minutes_least__gte=1, minutes_wanted__lte=240)
                & Q(minutes_least__lte=F("minutes_wanted")),
                name="topic_minutes",
            ),
            models.CheckConstraint(
                condition=Q(every_nth__isnull=True) | Q(every_nth__gte=1, every_nth__lte=26),
                name="topic_every_nth",
            ),
            limit("title", TITLE, table="topic"),
            limit("detail", WORDS, table="topic"),
        ]


class TopicAfter(Row):
    """``topic`` has to come after ``earlier`` in an order."""

    topic = models.ForeignKey(Topic, on_delete=models.CASCADE, related_name="+")
    earlier = models.ForeignKey(Topic, on_delete=models.CASCADE, related_name="+")

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["topic", "earlier"], name="topic_after_once"),
            models.CheckConstraint(condition=~Q(topic=F("earlier")), name="topic_after_another"),
        ]


class Importance(Row):
    """How much a topic matters to one side, in words that both sides see. Without a row a side said nothing.

    ``was_first``: *first* was changed to *in turn*, because the topic came onto an agenda on which two other
    topics were *first* for that side.
    """

    class Level(models.TextChoices):
        FIRST = "first", _("first")
        IN_TURN = "in_turn", _("in turn")
        IF_TIME = "if_time", _("if time allows")

    topic = models.ForeignKey(Topic, on_delete=models.CASCADE, related_name="importances")
    side = models.CharField(max_length=8, choices=Side)
    level = models.CharField(max_length=8, choices=Level)
    was_first = models.BooleanField(default=False)

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["topic", "side"], name="importance_one_a_side"),
            models.CheckConstraint(
                condition=Q(was_first=False) | Q(level="in_turn"), name="importance_was_first_is_in_turn"
            ),
        ]


class Placement(Row):
    """A topic in one meeting, with its outcome there.

    ``minutes_planned`` is set when the topic begins: the length of its box, in minutes as asked, before the
    line's history factor; None if it had no box. ``pinned_minute`` is the minute of the meeting at which
    somebody has set it to begin. ``is_in_by_hand``: somebody has given it a place, which it keeps while
    must-discuss topics, agreed starts and *first* topics leave room for it.
    """

    class Outcome(models.TextChoices):
        UNDECIDED = "undecided", _("undecided")
        DISCUSSED = "discussed", _("discussed")
        CONTINUES = "continues", _("discussed, kept for next time")
        UNHEARD = "unheard", _("not reached")
        WITHDRAWN = "withdrawn", _("withdrawn")

    topic = models.ForeignKey(Topic, on_delete=models.PROTECT, related_name="placements")
    meeting = models.ForeignKey(Meeting, on_delete=models.PROTECT, related_name="placements")
    minutes_wanted = models.PositiveSmallIntegerField()
    minutes_least = models.PositiveSmallIntegerField()
    pinned_minute = models.PositiveSmallIntegerField(null=True, blank=True)
    is_in_by_hand = models.BooleanField(default=False)
    outcome = models.CharField(max_length=10, choices=Outcome, default=Outcome.UNDECIDED)
    is_late = models.BooleanField(default=False)
    added_at = models.DateTimeField()
    began_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    minutes_planned = models.PositiveSmallIntegerField(null=True, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["added_at", "id"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["topic", "meeting"], name="placement_once_a_meeting"),
            models.UniqueConstraint(
                fields=["topic"], condition=Q(outcome="undecided"), name="placement_one_undecided"
            ),
            models.CheckConstraint(
                condition=Q(minutes_least__gte=1, minutes_least__lte=F("minutes_wanted")),
                name="placement_minutes",
            ),
        ]


class MustDiscussQuerySet(models.QuerySet["MustDiscuss"]):
    def waiting(self, meeting: Meeting) -> Self:
        """The marks of a meeting whose topics have not been discussed there yet."""
        return self.filter(meeting=meeting, placement__outcome=Placement.Outcome.UNDECIDED)


class MustDiscuss(Row):
    """The one topic of a side that must be discussed at this meeting.

    At the end of the meeting the row is deleted if the topic was discussed. If not, it stays, and the topic
    is must-discuss next time.
    """

    meeting = models.ForeignKey(Meeting, on_delete=models.CASCADE, related_name="musts")
    side = models.CharField(max_length=8, choices=Side)
    placement = models.ForeignKey(Placement, on_delete=models.CASCADE, related_name="musts")

    objects = MustDiscussQuerySet.as_manager()

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["meeting", "side"], name="must_discuss_one_a_side")
        ]


class StandingOrders(models.Manager["Order"]):
    def get_queryset(self) -> models.QuerySet[Order]:
        """All versions except withdrawn ones."""
        return super().get_queryset().filter(withdrawn_at__isnull=True)


class Order(Row):
    """One version of a meeting's order. Versions are added, never changed.

    ``factors`` are what the line's history made of the minutes asked: hundredths, by kind. ``hand`` is what
    was fixed by hand when it was made: the minute of each topic given a place, or None for any, by key. A
    move by hand names its ``placement``, and the minute it began at before, None for one without a place. A
    version made by a start that was taken back is withdrawn: only ``every`` still gives it, so that its
    number is not used again.
    """

    class Cause(models.TextChoices):
        ISSUED = "issued", _("issued")
        STARTED = "started", _("issued by starting")
        MOVED = "moved", _("moved by hand")
        UNDONE = "undone", _("a move undone")
        LATE = "late", _("a late topic")
        CHANGED = "changed", _("a topic changed")
        REPLANNED = "replanned", _("ordered again")

    meeting = models.ForeignKey(Meeting, on_delete=models.PROTECT, related_name="orders")
    number = models.PositiveIntegerField()
    cause = models.CharField(max_length=10, choices=Cause)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    at = models.DateTimeField()
    opening = models.PositiveSmallIntegerField()
    closing = models.PositiveSmallIntegerField()
    plan = models.JSONField()
    factors = models.JSONField(default=dict)
    hand = models.JSONField(default=dict)
    placement = models.ForeignKey(
        Placement, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    was_minute = models.PositiveSmallIntegerField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    objects = StandingOrders()
    every: ClassVar[models.Manager[Order]] = models.Manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["number"]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["meeting", "number"], name="order_number_once")
        ]


class Proposal(Row):
    """Something that one side proposes and the other side accepts or declines.

    ``lapses_at`` is the end of the time for an answer, for proposals of a time. Keys of ``payload``:
    ``START``, the minute at which a late topic should begin; ``WANTED`` and ``LEAST``, the minutes asked for
    a topic that has a place.
    """

    START, WANTED, LEAST = "start", "wanted", "least"

    class Kind(models.TextChoices):
        INTERVAL = "interval", _("another interval")
        TIME = "time", _("another time")
        EXTRA = "extra", _("an extra meeting")
        LATE_TOPIC = "late_topic", _("a late topic that displaces something")
        # Only in a meeting under way: begin a topic before its slot, if both want it. Before the meeting a
        # move by hand needs no answer, because either side can undo it.
        BRING_FORWARD = "bring_forward", _("bring a topic forward")
        HAND_OVER = "hand_over", _("hand a commitment over")

    class State(models.TextChoices):
        OPEN = "open", _("open")
        ACCEPTED = "accepted", _("accepted")
        DECLINED = "declined", _("declined")
        WITHDRAWN = "withdrawn", _("withdrawn")
        LAPSED = "lapsed", _("lapsed")

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="proposals")
    kind = models.CharField(max_length=14, choices=Kind)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    side = models.CharField(max_length=8, choices=Side)
    meeting = models.ForeignKey(Meeting, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    placement = models.ForeignKey(
        Placement, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    commitment = models.ForeignKey(
        "oneonone.Commitment", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    interval = models.ForeignKey(
        "oneonone.Interval", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    payload = models.JSONField(default=dict)
    base_version = models.PositiveIntegerField()
    state = models.CharField(max_length=10, choices=State, default=State.OPEN)
    at = models.DateTimeField()
    lapses_at = models.DateTimeField(null=True, blank=True)
    answered_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    answered_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar[list[str]] = ["at", "id"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["at"], condition=models.Q(state="open"), name="proposal_open"),
        ]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(
                fields=["placement", "kind"], condition=Q(state="open"), name="proposal_one_open_a_placement"
            ),
            models.UniqueConstraint(
                fields=["meeting"],
                condition=Q(state="open", kind="time"),
                name="proposal_one_open_time_a_meeting",
            ),
            models.UniqueConstraint(
                fields=["line"],
                condition=Q(state="open", kind="extra"),
                name="proposal_one_open_extra_a_line",
            ),
            models.UniqueConstraint(
                fields=["commitment", "kind"],
                condition=Q(state="open"),
                name="proposal_one_open_a_commitment",
            ),
        ]

    @property
    def start_minute(self) -> int | None:
        """The minute of the meeting at which a late topic should begin; None for any minute."""
        minute: int | None = self.payload.get(self.START)
        return minute

    @property
    def minutes(self) -> tuple[int, int] | None:
        """The minutes wanted and least useful that are asked for a topic with a place; None for none."""
        if self.WANTED not in self.payload:
            return None
        return int(self.payload[self.WANTED]), int(self.payload[self.LEAST])
