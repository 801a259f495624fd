"""Preparing for a meeting: one page from the reminder to ready. Only its reader sees it."""

from __future__ import annotations

import datetime as dt

from django import forms
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from oneonone import access
from oneonone.models import Commitment, LogbookEntry, Meeting
from oneonone.selectors.dates import coming_meetings, line_calendar
from oneonone.selectors.meetings import preparation_page
from oneonone.services.agenda import bringing
from oneonone.services.commitments import commitments, due_dates
from oneonone.services.private import preparation
from oneonone.web import form_refusals
from oneonone.web.base_forms import Form
from oneonone.web.policy import LINE_SIDE, PersonRequest, view


def _path(meeting: Meeting) -> str:
    return reverse("meeting-prepare", args=[meeting.pk])


def _today(request: PersonRequest) -> dt.date:
    return line_calendar.local_day(request.now, request.person.zone)


@view(policy=LINE_SIDE, door=access.meeting_for_edit)
def page(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """The five steps."""
    shown = preparation_page.page(request.person, meeting, now=request.now)
    context = {"prepare": shown, "agenda": shown.agenda, "here": request.path, "section": "next"}
    return render(request, "meetings/prepare.html", context)


@view(policy=LINE_SIDE, door=access.meeting_for_edit, methods=("POST",))
def tick(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """Mark a step as done, or open it again."""
    with form_refusals.told(request):
        step = request.POST.get("step", "")
        preparation.mark_step(
            meeting=meeting,
            step=step,
            done=request.POST.get("done") != "0",
            actor=request.person,
            now=request.now,
            today=_today(request),
        )
    return redirect(f"{_path(meeting)}#steps")


@view(policy=LINE_SIDE, door=access.commitment_for_owner, methods=("POST",))
def say_commitment(request: PersonRequest, commitment: Commitment) -> HttpResponse:
    """Say how a commitment went: done, will make the date, or may slip. It counts for the coming meeting."""
    meeting = coming_meetings.earliest(commitment.line) if commitment.line.is_open else None
    how = request.POST.get("how", "")
    with form_refusals.told(request):
        if how == "done":
            commitments.done(commitment=commitment, actor=request.person, now=request.now)
        else:
            due_dates.forecast(commitment=commitment, value=how, actor=request.person, now=request.now)
        if meeting is not None:
            preparation.mark_commitment(
                meeting=meeting,
                commitment_id=commitment.pk,
                actor=request.person,
                now=request.now,
                today=_today(request),
            )
    return redirect(f"{_path(meeting)}#commitments" if meeting is not None else reverse("commitments"))


class LeaveForm(Form):
    """The meeting that an entry is not brought to."""

    meeting = forms.UUIDField(widget=forms.HiddenInput)


@view(policy=LINE_SIDE, door=access.logbook_entry_for, methods=("POST",))
def leave_entry(request: PersonRequest, entry: LogbookEntry) -> HttpResponse:
    """Decide that an entry is not brought to a meeting."""
    form = LeaveForm(request.POST)
    if not form.is_valid():
        raise Http404
    meeting = access.meeting_for_edit(request.person, form.cleaned_data["meeting"])
    with form_refusals.told(request):
        bringing.leave(
            entry=entry, meeting=meeting, actor=request.person, now=request.now, today=_today(request)
        )
    return redirect(f"{_path(meeting)}#entries")
