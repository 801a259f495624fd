"""The record: lines with an author, dated additions, and who has seen it."""

from __future__ import annotations

from uuid import uuid4

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from oneonone import access
from oneonone.models import Meeting, RecordAddition, RecordLine
from oneonone.selectors.record import record as selector
from oneonone.services.record import record
from oneonone.services.refusals import Stale
from oneonone.web import form_refusals, posted_data, redirects, stale_edits
from oneonone.web.agenda import named_placement, rail
from oneonone.web.agenda.wording import topic_wording
from oneonone.web.commitments.commitment_forms import TakeOnForm
from oneonone.web.meetings import heading_wording
from oneonone.web.policy import LINE_SIDE, PersonRequest, view
from oneonone.web.record import record_wording
from oneonone.web.record.record_forms import AdditionForm, EditLineForm, LineForm


def home_of(meeting: Meeting) -> str:
    """Where the lines of a meeting are written: the page under way, or afterwards the record."""
    name = "meeting-live" if meeting.state == Meeting.State.UNDER_WAY else "record"
    return reverse(name, args=[meeting.pk])


@view(policy=LINE_SIDE, door=access.meeting_for)
def page(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """The record of a meeting that was held; any other has its agenda."""
    if meeting.state != Meeting.State.CLOSED:
        return redirect("meeting", meeting.pk)
    shown = selector.of(request.person, meeting, now=request.now)
    topics = record_wording.topics(shown)
    context = {
        "page": shown,
        "head": shown.head,
        "meeting": meeting,
        "title": heading_wording.title(shown.head, now=request.now),
        "eyebrow": heading_wording.eyebrow(shown.head),
        "margin_tab": heading_wording.margin_tab(shown.head),
        "note_form": rail.note_form(shown.margin.meeting, "meeting"),
        "topics": topics,
        "written": record_wording.written(topics),
        "unwritten": record_wording.unwritten(topics),
        "kept_topics": [(card, topic_wording.kept(card, shown.head.other)) for card in shown.kept],
        "line_form": LineForm(initial={"client_key": uuid4()}),
        "take_on_form": TakeOnForm(
            initial={"client_key": uuid4()}, other=shown.head.other, auto_id="take-%s"
        ),
        "addition_form": AdditionForm(initial={"client_key": uuid4()}),
        "here": reverse("record", args=[meeting.pk]),
        "section": "lines",
    }
    return render(request, "record/record.html", context)


@view(policy=LINE_SIDE, door=access.meeting_for_edit, methods=("GET", "POST"))
def add_line(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """Add a line, said or decided."""
    back = redirects.back_path(request, home_of(meeting))
    form = LineForm(posted_data.form_data(request), initial={"client_key": uuid4()})
    if request.method == "POST" and form.is_valid():
        with form_refusals.at(form):
            record.write(
                meeting=meeting,
                kind=form.cleaned_data["kind"],
                words=form.cleaned_data["words"],
                placement=named_placement.named(meeting, form.cleaned_data["placement"]),
                actor=request.person,
                now=request.now,
                client_key=form.cleaned_data["client_key"],
            )
            return redirect(back)
    context = {"form": form, "meeting": meeting, "back": back, "section": "lines"}
    return render(request, "record/record_line_add.html", context, status=form_refusals.status(form))


@view(policy=LINE_SIDE, door=access.record_line_for_edit, methods=("GET", "POST"))
def edit_line(request: PersonRequest, line: RecordLine) -> HttpResponse:
    """Change one's own line."""
    back = redirects.back_path(request, home_of(line.meeting))
    form = EditLineForm(
        posted_data.form_data(request), initial={"words": line.words, "version": line.version}
    )
    texts = None
    if request.method == "POST" and form.is_valid():
        with form_refusals.at(form):
            try:
                record.edit(
                    line=line,
                    words=form.cleaned_data["words"],
                    version=form.cleaned_data["version"],
                    actor=request.person,
                    now=request.now,
                )
                return redirect(back)
            except Stale as refusal:
                texts = stale_edits.texts(request, refusal, "words")
                form = EditLineForm(stale_edits.sent_again(request, refusal))
    context = {"form": form, "line": line, "texts": texts, "back": back, "section": "lines"}
    status = stale_edits.STATUS if texts else form_refusals.status(form)
    return render(request, "record/record_line_edit.html", context, status=status)


@view(policy=LINE_SIDE, door=access.record_line_for_edit, methods=("GET", "POST"))
def remove_line(request: PersonRequest, line: RecordLine) -> HttpResponse:
    """Remove one's own text from a line, after a page that explains what stays."""
    back = redirects.back_path(request, home_of(line.meeting))
    if request.method == "POST":
        with form_refusals.told(request):
            record.remove(line=line, actor=request.person, now=request.now)
            messages.success(
                request, _("Your words are removed. The record still shows that a line was there.")
            )
        return redirect(back)
    context = {"line": line, "back": back, "section": "lines"}
    return render(request, "record/record_line_remove.html", context)


@view(policy=LINE_SIDE, door=access.meeting_for_edit, methods=("GET", "POST"))
def add_addition(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """Add to a record that is frozen, with today's date."""
    back = reverse("record", args=[meeting.pk])
    form = AdditionForm(posted_data.form_data(request), initial={"client_key": uuid4()})
    if request.method == "POST" and form.is_valid():
        with form_refusals.at(form):
            record.add(
                meeting=meeting,
                words=form.cleaned_data["words"],
                actor=request.person,
                now=request.now,
                client_key=form.cleaned_data["client_key"],
            )
            messages.success(request, _("Added, with today’s date."))
            return redirect(back)
    context = {"form": form, "meeting": meeting, "back": back, "section": "lines"}
    return render(request, "record/record_addition_add.html", context, status=form_refusals.status(form))


@view(policy=LINE_SIDE, door=access.record_addition_for_edit, methods=("GET", "POST"))
def remove_addition(request: PersonRequest, addition: RecordAddition) -> HttpResponse:
    """Remove one's own text from an addition, after a page that explains what stays."""
    back = reverse("record", args=[addition.meeting_id])
    if request.method == "POST":
        with form_refusals.told(request):
            record.remove_addition(addition=addition, actor=request.person, now=request.now)
            messages.success(
                request, _("Your words are removed. The record still shows that you added something.")
            )
        return redirect(back)
    context = {"addition": addition, "back": back, "section": "lines"}
    return render(request, "record/record_addition_remove.html", context)


@view(policy=LINE_SIDE, door=access.meeting_for_edit, methods=("POST",))
def seen(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """Mark the record as seen. This does not mean agreement."""
    with form_refusals.told(request):
        record.mark_seen(meeting=meeting, actor=request.person, now=request.now)
        messages.success(request, _("Marked as seen. This does not mean that you agree."))
    return redirect("record", meeting.pk)
