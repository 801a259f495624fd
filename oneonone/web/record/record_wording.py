"""The topics of a record, with the outcome of each in words."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import uuid4

from oneonone.selectors.record.record import RecordView, TopicRecord
from oneonone.web.agenda.wording import topic_wording
from oneonone.web.record.record_forms import LineForm


@dataclass(frozen=True)
class TopicRow:
    """A topic that was discussed, with its phrases."""

    record: TopicRecord
    about: str
    whose: str
    became: str
    form: LineForm


def topics(page: RecordView) -> tuple[TopicRow, ...]:
    """The topics of a record, in the record's order."""
    return tuple(
        TopicRow(
            record=record,
            about=topic_wording.about(record.topic),
            whose=topic_wording.brought(record.topic, page.head.other),
            became=topic_wording.became(record.topic),
            form=LineForm(initial={"client_key": uuid4()}, auto_id=f"line-{record.topic.topic_id}-%s"),
        )
        for record in page.discussed
    )


def written(rows: tuple[TopicRow, ...]) -> tuple[TopicRow, ...]:
    """The topics at which something was written."""
    return tuple(row for row in rows if row.record.lines)


def unwritten(rows: tuple[TopicRow, ...]) -> tuple[TopicRow, ...]:
    """The topics that were discussed and at which nothing was written. The page names them on one line."""
    return tuple(row for row in rows if not row.record.lines)
