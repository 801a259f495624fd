"""The logbook: captured from any page, read back, changed, brought to an agenda, exported."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from oneonone import access
from oneonone.models import Line, LogbookEntry
from oneonone.selectors.dates import coming_meetings, line_calendar
from oneonone.selectors.private import logbook as selector
from oneonone.selectors.private.logbook_entry import EntryContent
from oneonone.services.agenda import bringing
from oneonone.services.agenda.topics import Wording
from oneonone.services.private import logbook
from oneonone.services.refusals import Stale
from oneonone.web import form_refusals, posted_data, redirects, spreadsheet, stale_edits
from oneonone.web.policy import LINE_SIDE, SIGNED_IN, PersonRequest, view
from oneonone.web.private import logbook_export, logbook_wording
from oneonone.web.private.logbook_forms import BringForm, CaptureForm, EntryForm, FindForm

A_PAGE = 50


def _today(request: PersonRequest) -> dt.date:
    return line_calendar.local_day(request.now, request.person.zone)


@view(policy=SIGNED_IN, methods=("GET", "POST"))
def index(request: PersonRequest) -> HttpResponse:
    """One's entries, those since the last one-on-one first; a search comes in the form's body."""
    today = _today(request)
    form = FindForm(posted_data.form_data(request))
    found = selector.with_fates(request.person, selector.entries(request.person))
    wanted = _wanted(form) if form.is_bound and form.is_valid() else selector.Filter()
    line = selector.main_line(request.person)
    last = coming_meetings.last_held(line) if line is not None else None
    since = last.held_on if last is not None else None
    context: dict[str, Any] = {
        "form": form,
        "capture_form": CaptureForm(today=today),
        "is_filtered": bool(wanted),
        "year": selector.year(found, today=today),
        "line": line,
        "last": last,
        "coming": coming_meetings.earliest(line) if line is not None else None,
        "section": "logbook",
        "today": today,
        "total": len(found),
        "cannot_be_opened": sum(one.content is None for one in found),
    }
    if wanted or since is None:
        page = Paginator(selector.matching(found, wanted), A_PAGE).get_page(request.GET.get("page"))
        context |= {"page": page, "since": [], "earlier": page.object_list}
    else:
        recent = [one for one in found if one.event_on >= since]
        page = Paginator([one for one in found if one.event_on < since], A_PAGE).get_page(
            request.GET.get("page")
        )
        context |= {"page": page, "since": recent, "earlier": page.object_list}
        context["brought"] = sum(one.is_brought for one in recent)
    return render(request, "private/logbook.html", context, status=form_refusals.status(form))


def _wanted(form: FindForm) -> selector.Filter:
    said = form.cleaned_data
    return selector.Filter(
        kind=said["kind"], month=said["month"], words=said["words"], not_brought=said["not_brought"]
    )


@view(policy=SIGNED_IN, methods=("GET", "POST"))
def add(request: PersonRequest) -> HttpResponse:
    """Keep a line, from the field at the head of every page or from a page of its own."""
    form = CaptureForm(posted_data.form_data(request), today=_today(request))
    back = redirects.back_path(request, reverse("logbook"))
    if form.is_bound and form.is_valid():
        with form_refusals.at(form):
            logbook.add(
                kind=form.cleaned_data["kind"],
                line=form.cleaned_data["line"],
                event_on=form.cleaned_data["event_on"],
                client_key=form.cleaned_data["client_key"],
                actor=request.person,
                now=request.now,
                today=_today(request),
            )
            messages.success(
                request, _("Saved in your logbook. Nobody else sees it."), extra_tags="draft-saved"
            )
            return redirect(back)
    context = {"form": form, "back": back, "section": "logbook"}
    return render(request, "private/logbook_add.html", context, status=form_refusals.status(form))


@view(policy=LINE_SIDE, door=access.logbook_entry_for, methods=("GET", "POST"))
def entry(request: PersonRequest, row: LogbookEntry) -> HttpResponse:
    """One entry with all that can be said of it. An edit on an older version shows both lines."""
    shown = selector.entry(request.person, row.pk)
    if shown is None:
        raise Http404
    today, back = _today(request), redirects.back_path(request, reverse("logbook"))
    if shown.content is None:
        return render(request, "private/logbook_entry.html", {"entry": shown, "back": back})
    data = posted_data.form_data(request)
    kind = _kind(data.get("kind") if data is not None else request.GET.get("kind"), shown.content)
    form = EntryForm(data, kind=kind, today=today, initial=_initial(shown, kind))
    texts = None
    if form.is_bound and form.is_valid():
        with form_refusals.at(form):
            try:
                logbook.edit(
                    entry=row,
                    kind=form.cleaned_data["kind"],
                    line=form.cleaned_data["line"],
                    event_on=form.cleaned_data["event_on"],
                    details=form.details,
                    revision=form.cleaned_data["revision"] or 0,
                    actor=request.person,
                    now=request.now,
                    today=today,
                )
                messages.success(request, _("Saved."))
                return redirect(back)
            except Stale as refusal:
                texts = stale_edits.texts(request, refusal, "line")
                form = EntryForm(stale_edits.sent_again(request, refusal, "revision"), kind=kind, today=today)
    context = {
        "entry": shown,
        "form": form,
        "kind": kind,
        "texts": texts,
        "back": back,
        "section": "logbook",
    }
    status = stale_edits.STATUS if texts else form_refusals.status(form)
    return render(request, "private/logbook_entry.html", context, status=status)


def _kind(asked: str | None, content: EntryContent) -> str:
    return asked if asked in LogbookEntry.Kind.values else content.kind


def _initial(shown: selector.Entry, kind: str) -> dict[str, Any]:
    content = shown.content
    return {
        "line": content.line if content is not None else "",
        "kind": kind,
        "event_on": shown.event_on.isoformat(),
        "revision": shown.revision,
        **(content.details if content is not None else {}),
    }


@view(policy=LINE_SIDE, door=access.logbook_entry_for, methods=("GET", "POST"))
def remove(request: PersonRequest, row: LogbookEntry) -> HttpResponse:
    """Delete an entry, after asking."""
    if request.method == "POST":
        logbook.remove(entry=row, actor=request.person)
        messages.success(request, _("Removed from your logbook."))
        return redirect("logbook")
    shown = selector.entry(request.person, row.pk)
    return render(request, "private/logbook_remove.html", {"entry": shown, "section": "logbook"})


@view(policy=LINE_SIDE, door=access.logbook_entry_for, methods=("GET", "POST"))
def bring(request: PersonRequest, row: LogbookEntry) -> HttpResponse:
    """Show exactly what becomes shared, and share it once that is confirmed."""
    shown = selector.entry(request.person, row.pk)
    lines = selector.open_lines(request.person)
    if shown is None or shown.content is None or not lines:
        raise Http404
    names = [(str(line.pk), line.name_on(line.side_for(request.person).other)) for line in lines]
    back = redirects.back_path(request, reverse("logbook"))
    form = BringForm(
        posted_data.form_data(request),
        lines=names,
        initial={"title": shown.content.line, "line": names[0][0]},
    )
    if form.is_bound and form.is_valid():
        with form_refusals.at(form):
            bringing.bring(
                entry=row,
                line=next(line for line in lines if str(line.pk) == form.cleaned_data["line"]),
                wording=Wording(
                    title=form.cleaned_data["title"],
                    detail=form.cleaned_data["detail"],
                    kind=shown.content.kind,
                    outcome_wanted=logbook_wording.outcome_wanted(shown.content),
                ),
                client_key=form.cleaned_data["client_key"],
                actor=request.person,
                now=request.now,
                today=_today(request),
            )
            messages.success(request, _("It is on the agenda now. The rest of the entry stays yours alone."))
            return redirect(back)
    context = {
        "entry": shown,
        "kept": logbook_wording.details(shown.content),
        "form": form,
        "names": names,
        "coming": _coming(lines),
        "back": back,
        "section": "logbook",
    }
    return render(request, "private/logbook_bring.html", context, status=form_refusals.status(form))


def _coming(lines: list[Line]) -> Any:
    return coming_meetings.earliest(lines[0]) if len(lines) == 1 else None


@view(policy=LINE_SIDE, door=access.logbook_entry_for, methods=("POST",))
def take_back(request: PersonRequest, row: LogbookEntry) -> HttpResponse:
    """Withdraw the topic that was made of an entry."""
    with form_refusals.told(request):
        bringing.take_back(entry=row, actor=request.person, now=request.now)
        messages.success(request, _("Taken off the agenda. It is in your logbook as before."))
    return redirects.back(request, reverse("logbook"))


@view(policy=SIGNED_IN)
def achievements(request: PersonRequest) -> HttpResponse:
    """One's achievements, to read back before a review or a hard week."""
    found = [
        (one, logbook_wording.details(one.content))
        for one in selector.entries(request.person)
        if one.content is not None and one.content.kind == LogbookEntry.Kind.ACHIEVEMENT
    ]
    page = Paginator(found, A_PAGE).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "year": selector.year([one for one, _said in found], today=_today(request)),
        "section": "logbook",
    }
    return render(request, "private/logbook_achievements.html", context)


@view(policy=SIGNED_IN)
def export(request: PersonRequest, extension: str) -> HttpResponse:
    """The whole logbook as a file."""
    content_type, write = logbook_export.FORMATS[extension]
    text = write(selector.entries(request.person))
    return spreadsheet.attachment(text, content_type=content_type, name=f"export.{extension}")


@view(policy=SIGNED_IN)
def keys(request: PersonRequest) -> HttpResponse:
    """The single-key shortcuts, and where to switch them off."""
    return render(request, "private/keys.html", {"on": request.person.single_keys, "section": "settings"})
