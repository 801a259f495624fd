"""The margin: one's own notes at topics and at meetings, and the unclear mark."""

from __future__ import annotations

from django.http import HttpResponse
from django.urls import reverse

from oneonone import access
from oneonone.models import Line, Meeting, Topic
from oneonone.selectors.dates import coming_meetings, line_calendar
from oneonone.selectors.private import margin as selector
from oneonone.services.private import margin
from oneonone.services.refusals import Stale
from oneonone.web import form_refusals, partials, posted_data, redirects, stale_edits
from oneonone.web.policy import LINE_SIDE, PersonRequest, view
from oneonone.web.private.margin_forms import NoteForm


@view(policy=LINE_SIDE, door=access.topic_for, methods=("GET", "POST"))
def write_at_topic(request: PersonRequest, topic: Topic) -> HttpResponse:
    """One's note at a topic."""
    back = redirects.back_path(request, redirects.line_path(topic.line, topic.pk))
    return _write(request, topic.line, title=topic.title, back=back, topic=topic)


@view(policy=LINE_SIDE, door=access.meeting_for_edit, methods=("GET", "POST"))
def write_at_meeting(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """One's note at a meeting as a whole."""
    back = redirects.back_path(request, redirects.agenda_path(meeting))
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
    form, texts = NoteForm(posted_data.form_data(request)), None
    if form.is_valid():
        with form_refusals.at(form):
            try:
                margin.write(
                    topic=topic,
                    meeting=meeting,
                    words=form.cleaned_data["words"],
                    unclear=form.cleaned_data["unclear"],
                    revision=form.cleaned_data["revision"],
                    actor=request.person,
                    now=request.now,
                    today=line_calendar.local_day(request.now, request.person.zone),
                )
                return redirects.back(request, back)
            except Stale as refusal:
                texts = stale_edits.texts(request, refusal, "words")
                form = NoteForm(stale_edits.sent_again(request, refusal, "revision"))
    note = _note_at(request, topic, meeting)
    if not form.is_bound:
        form = NoteForm(initial={"words": note.words, "unclear": note.unclear, "revision": note.revision})
    coming_meeting = meeting or (coming_meetings.earliest(line) if line.is_open else None)
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
    status = stale_edits.STATUS if texts else form_refusals.status(form)
    return partials.answer(
        request, "private/margin_note.html", "private/parts/margin_note_in_place.html", context, status=status
    )


def _note_at(request: PersonRequest, topic: Topic | None, meeting: Meeting | None) -> selector.Note:
    if topic is not None:
        return selector.at_topic(request.person, topic)
    return selector.NOTHING if meeting is None else selector.at_meeting(request.person, meeting)


@view(policy=LINE_SIDE, door=access.topic_for, methods=("POST",))
def unclear(request: PersonRequest, topic: Topic) -> HttpResponse:
    """Mark a topic unclear for oneself, or take the mark away."""
    with form_refusals.told(request):
        margin.mark(
            topic=topic,
            unclear=request.POST.get("unclear") != "0",
            actor=request.person,
            now=request.now,
            today=line_calendar.local_day(request.now, request.person.zone),
        )
    return redirects.back(request, redirects.line_path(topic.line, topic.pk))
