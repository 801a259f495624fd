"""The margin: one's own notes at topics and at meetings, and the unclear mark."""

from __future__ import annotations

from django.http import HttpResponse
from django.urls import reverse

from oneonone import access
from oneonone.models import Line, Meeting, Topic
from oneonone.selectors import calendar, coming
from oneonone.selectors import margin as selector
from oneonone.services import margin
from oneonone.services.refusals import Stale
from oneonone.web import going, partial, refused, sent, stale
from oneonone.web.forms.margin import NoteForm
from oneonone.web.policy import LINE_SIDE, PersonRequest, view


@view(policy=LINE_SIDE, door=access.topic_for, methods=("GET", "POST"))
def write_at_topic(request: PersonRequest, topic: Topic) -> HttpResponse:
    """One's note at a topic."""
    back = going.back_path(request, going.line_path(topic.line, topic.pk))
    return _write(request, topic.line, title=topic.title, back=back, topic=topic)


@view(policy=LINE_SIDE, door=access.meeting_for_edit, methods=("GET", "POST"))
def write_at_meeting(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """One's note at a meeting as a whole."""
    back = going.back_path(request, going.agenda_path(meeting))
    return _write(request, meeting.line, title="", back=back, meeting=meeting)


def _write(
    request: PersonRequest,
    line: Line,
    *,
    title: str,
    back: str,
    topic: Topic | None = None,
    meeting: Meeting | None = None,
) -> HttpResponse:
    form, texts = NoteForm(sent.form_data(request)), None
    if form.is_valid():
        with refused.at(form):
            try:
                margin.write(
                    topic=topic,
                    meeting=meeting,
                    words=form.cleaned_data["words"],
                    unclear=form.cleaned_data["unclear"],
                    revision=form.cleaned_data["revision"],
                    actor=request.person,
                    now=request.now,
                    today=calendar.local_day(request.now, request.person.zone),
                )
                return going.back(request, back)
            except Stale as refusal:
                texts = stale.texts(request, refusal, "words")
                form = NoteForm(stale.sent_again(request, refusal, "revision"))
    note = _note_at(request, topic, meeting)
    if not form.is_bound:
        form = NoteForm(initial={"words": note.words, "unclear": note.unclear, "revision": note.revision})
    coming_meeting = meeting or (coming.earliest(line) if line.is_open else None)
    context = {
        "form": form,
        "note": note,
        "texts": texts,
        "title": title,
        "here": request.path,
        "is_topic": topic is not None,
        "other": line.name_on(line.side_for(request.person).other),
        "back": back,
        "seen_url": reverse("meeting-as-they-see-it", args=[coming_meeting.pk]) if coming_meeting else "",
        "section": "lines",
    }
    status = stale.STATUS if texts else refused.status(form)
    return partial.answer(
        request, "pages/margin_note.html", "pages/parts/margin_note_in_place.html", context, status=status
    )


def _note_at(request: PersonRequest, topic: Topic | None, meeting: Meeting | None) -> selector.Note:
    if topic is not None:
        return selector.at_topic(request.person, topic)
    return selector.NOTHING if meeting is None else selector.at_meeting(request.person, meeting)


@view(policy=LINE_SIDE, door=access.topic_for, methods=("POST",))
def unclear(request: PersonRequest, topic: Topic) -> HttpResponse:
    """Mark a topic unclear for oneself, or take the mark away."""
    with refused.told(request):
        margin.mark(
            topic=topic,
            unclear=request.POST.get("unclear") != "0",
            actor=request.person,
            now=request.now,
            today=calendar.local_day(request.now, request.person.zone),
        )
    return going.back(request, going.line_path(topic.line, topic.pk))
