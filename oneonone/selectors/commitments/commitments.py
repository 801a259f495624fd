"""The commitments that a reader sees, with counts of their carries and date changes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Count, IntegerField, OuterRef, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce

from accounts.models import Person
from oneonone.models import Carry, Commitment, Line, Meeting, Proposal, Revision, Side
from oneonone.models.followthrough import CommitmentCue
from oneonone.selectors.dates import line_calendar

# From the second carry on the owner is asked to keep, change, hand over or drop it.
CHOICE_FROM = 2


@dataclass(frozen=True)
class CommitmentView:
    """One commitment.

    ``times_carried`` counts the meetings held after its date that left it open. ``asks_choice``: the owner
    should keep, change, hand over or drop it, and has not answered since the last carry. ``is_kept``: the
    owner has kept it since the last carry. ``is_past`` is computed in the reader's zone. ``hand_over`` is the
    id of the open offer to the other side. ``cue_on`` is the owner's reminder day; None for anybody else.
    ``removed_at`` is set when its text was removed.
    """

    id: UUID
    line_id: UUID
    line_is_open: bool
    owner_side: Side
    owner: str
    other: str
    is_mine: bool
    is_authored: bool
    action: str
    how_known: str
    original_date: dt.date
    current_date: dt.date
    times_changed: int
    state: str
    forecast: str
    is_offered: bool
    is_past: bool
    times_carried: int
    asks_choice: bool
    is_kept: bool
    hand_over: UUID | None
    cue_on: dt.date | None
    made_in: UUID | None
    settled_at: dt.datetime | None
    removed_at: dt.datetime | None
    version: int


def mine(reader: Person, *, now: dt.datetime) -> tuple[CommitmentView, ...]:
    """The reader's own open commitments on all lines, ended ones too, by date."""
    rows = _rows(reader).filter(owner=reader, state=Commitment.State.OPEN)
    return _views(rows, reader, now)


SETTLED_SHOWN = dt.timedelta(days=30)


def in_one_place(reader: Person, *, now: dt.datetime) -> tuple[CommitmentView, ...]:
    """Open commitments of both sides on the reader's open lines, and the reader's own wherever they are."""
    rows = _rows(reader).filter(state=Commitment.State.OPEN)
    return _views(rows, reader, now)


def settled_lately(reader: Person, *, now: dt.datetime) -> tuple[CommitmentView, ...]:
    """The reader's own that were done, dropped or handed over in the last thirty days, newest first."""
    rows = (
        _rows(reader)
        .filter(owner=reader, settled_at__gte=now - SETTLED_SHOWN)
        .exclude(state=Commitment.State.OPEN)
        .order_by("-settled_at", "id")
    )
    return _views(rows, reader, now)


@dataclass(frozen=True)
class Punctuality:
    """The reader's own planned against actual: how many of the done ones were done by their first date."""

    done: int
    by_first_date: int
    median_days_late: int


def punctuality(reader: Person) -> Punctuality:
    """Over all commitments that the reader did. Only the reader sees it; nobody is scored by it."""
    rows = Commitment.objects.filter(owner=reader, state=Commitment.State.DONE).values_list(
        "original_date", "settled_at"
    )
    late = sorted(
        (line_calendar.local_day(settled, reader.zone) - original).days
        for original, settled in rows
        if settled
    )
    return Punctuality(
        done=len(late),
        by_first_date=sum(days <= 0 for days in late),
        median_days_late=late[len(late) // 2] if late else 0,
    )


def these(reader: Person, ids: Collection[UUID], *, now: dt.datetime) -> tuple[CommitmentView, ...]:
    """The commitments with these ids that the reader may see, by date."""
    return _views(_rows(reader).filter(pk__in=list(ids)), reader, now)


def made_in(reader: Person, meeting: Meeting, *, now: dt.datetime) -> tuple[CommitmentView, ...]:
    """The commitments made in a meeting, in the order in which they were added."""
    rows = _rows(reader).filter(made_in=meeting, continues__isnull=True).order_by("created_at", "id")
    return _views(rows, reader, now)


def of_line(
    reader: Person, line: Line, ids: Collection[UUID], *, now: dt.datetime, private: bool = True
) -> tuple[CommitmentView, ...]:
    """The commitments with these ids on an open line of the reader, by date."""
    return _views(_rows_of(reader, line, private).filter(pk__in=list(ids)), reader, now, line=line)


def offered(
    reader: Person, line: Line, *, now: dt.datetime, private: bool = True
) -> tuple[CommitmentView, ...]:
    """The offered commitments of an open line, by date."""
    line.side_for(reader)
    waiting = Commitment.objects.filter(line=line, state=Commitment.State.OPEN, confirmed_at__isnull=True)
    ids = list(waiting.values_list("pk", flat=True))
    return of_line(reader, line, ids, now=now, private=private) if ids else ()


def _rows_of(reader: Person, line: Line, private: bool) -> QuerySet[Commitment]:
    """The commitments of one open line, for a side of it. LookupError for everybody else."""
    line.side_for(reader)
    rows = Commitment.objects.filter(line=line, line__ended_at__isnull=True)
    return _counted(
        rows, CommitmentCue.objects.filter(owner=reader) if private else CommitmentCue.objects.none()
    )


def cue_of(reader: Person, commitment: Commitment) -> dt.date | None:
    """The reader's own reminder day of a commitment, or None. Never another person's."""
    return (
        CommitmentCue.objects.filter(owner=reader, commitment=commitment).values_list("on", flat=True).first()
    )


def _rows(reader: Person) -> QuerySet[Commitment]:
    """The commitments that the reader may see, with the counts of ``CommitmentView``, by date."""
    return _counted(Commitment.objects.visible_to(reader), CommitmentCue.objects.filter(owner=reader))


def _counted(rows: QuerySet[Commitment], cues: QuerySet[CommitmentCue]) -> QuerySet[Commitment]:
    hand_over = Proposal.objects.filter(
        commitment=OuterRef("pk"), kind=Proposal.Kind.HAND_OVER, state=Proposal.State.OPEN
    )
    cue = cues.filter(commitment=OuterRef("pk"))
    return (
        rows.select_related("line__manager", "line__report", "owner")
        .annotate(
            times_carried=_count(Carry.objects.counted()),
            times_changed=_count(Revision.objects.all()),
            last_carried=_latest(Carry.objects.counted()),
            last_changed=_latest(Revision.objects.all()),
            hand_over=Subquery(hand_over.values("pk")[:1]),
            cue_on=Subquery(cue.values("on")[:1]),
        )
        .order_by("current_date", "created_at", "id")
    )


def _count(rows: QuerySet[Carry] | QuerySet[Revision]) -> Coalesce:
    counted = (
        rows.filter(commitment=OuterRef("pk"))
        .order_by()
        .values("commitment")
        .annotate(number=Count("pk"))
        .values("number")
    )
    return Coalesce(Subquery(counted, output_field=IntegerField()), Value(0))


def _latest(rows: QuerySet[Carry] | QuerySet[Revision]) -> Subquery:
    """When the newest of a commitment's rows was made; NULL if there is none."""
    return Subquery(rows.filter(commitment=OuterRef("pk")).order_by("-at").values("at")[:1])


def _views(
    rows: QuerySet[Commitment], reader: Person, now: dt.datetime, *, line: Line | None = None
) -> tuple[CommitmentView, ...]:
    today = line_calendar.local_day(now, reader.zone)
    return tuple(_view(row, line or row.line, reader, today) for row in rows)


def _view(row: Commitment, line: Line, reader: Person, today: dt.date) -> CommitmentView:
    times_carried: int = row.times_carried  # type: ignore[attr-defined]  # annotated in _rows
    side = line.side_of(reader)
    # Without an owner it belongs to the side that has not joined.
    is_mine = row.owner_id == reader.pk or (row.owner_id is None and row.owner_side == side)
    is_open = row.state == Commitment.State.OPEN
    carried: dt.datetime | None = row.last_carried  # type: ignore[attr-defined]
    changed: dt.datetime | None = row.last_changed  # type: ignore[attr-defined]
    is_kept = carried is not None and row.kept_at is not None and row.kept_at > carried
    has_new_date = carried is not None and changed is not None and changed > carried
    handed: UUID | None = row.hand_over  # type: ignore[attr-defined]
    asks = is_mine and is_open and times_carried >= CHOICE_FROM
    return CommitmentView(
        id=row.pk,
        line_id=row.line_id,
        line_is_open=line.is_open,
        owner_side=Side(row.owner_side),
        owner=line.name_on(Side(row.owner_side)),
        other=line.name_on(side.other) if side is not None else "",
        is_mine=is_mine,
        is_authored=row.author_id == reader.pk,
        action=row.action,
        how_known=row.how_known,
        original_date=row.original_date,
        current_date=row.current_date,
        times_changed=row.times_changed,  # type: ignore[attr-defined]
        state=row.state,
        forecast=row.forecast,
        is_offered=row.is_offered,
        is_past=row.is_past(today),
        times_carried=times_carried,
        asks_choice=asks and not (is_kept or has_new_date or handed),
        is_kept=is_open and is_kept,
        hand_over=handed,
        cue_on=row.cue_on,  # type: ignore[attr-defined]
        made_in=row.made_in_id,
        settled_at=row.settled_at,
        removed_at=row.removed_at,
        version=row.version,
    )
