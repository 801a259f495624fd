"""Topics: added, edited, given an importance, parked and withdrawn."""

from __future__ import annotations

from dataclasses import replace
from uuid import uuid4

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from accounts.refusals import Refusal
from oneonone import access
from oneonone.models import Line, Placement, Topic
from oneonone.selectors.agenda import planning, topic_cards
from oneonone.services.agenda import change_preview, topics
from oneonone.services.agenda import importance as importances
from oneonone.services.refusals import Stale
from oneonone.web import form_refusals, posted_data, redirects, stale_edits
from oneonone.web.agenda import change_confirmation
from oneonone.web.agenda.topic_forms import EditTopicForm, ImportanceForm, NewTopicForm
from oneonone.web.agenda.wording import reason_wording, topic_wording
from oneonone.web.policy import LINE_SIDE, PersonRequest, view


@view(policy=LINE_SIDE, door=access.line_for_edit, methods=("GET", "POST"))
def add(request: PersonRequest, line: Line) -> HttpResponse:
    """Add a topic: by one line and a kind, or with everything that can be said of it."""
    form = NewTopicForm(
        _with_usual(request), initial={"client_key": uuid4()}, others=topic_cards.others(line)
    )
    if request.method == "POST" and form.is_valid():
        with form_refusals.at(form):
            topic = topics.add(
                line=line,
                wording=form.wording(),
                actor=request.person,
                now=request.now,
                importance=form.cleaned_data["importance"],
                must=form.cleaned_data["must"],
                after=_earlier(line, form),
                client_key=form.cleaned_data["client_key"],
            )
            messages.success(request, _where_it_is(request, line, topic))
            return redirects.back_at(request, topic.pk, redirects.line_path(line))
    context = {
        **_about(request, line),
        "form": form,
        "back": redirects.back_path(request, redirects.line_path(line)),
    }
    return render(request, "agenda/topic_add.html", context, status=form_refusals.status(form))


def _with_usual(request: PersonRequest) -> object:
    """What was sent, with the usual where the one-line form leaves something out."""
    if request.method != "POST":
        return None
    data = request.POST.copy()
    data.setdefault("outcome_wanted", Topic.Outcome.INFORM.value)
    return data


def _earlier(line: Line, form: NewTopicForm | EditTopicForm) -> list[Topic]:
    return list(Topic.objects.filter(line=line, pk__in=form.earlier()))


def _about(request: PersonRequest, line: Line) -> dict[str, object]:
    side = line.side_for(request.person)
    return {
        "line": line,
        "other": line.name_on(side.other),
        "other_joined": line.person_on(side.other) is not None,
        "section": "lines",
    }


def _where_it_is(request: PersonRequest, line: Line, topic: Topic) -> str:
    """What adding it has done: on the list, boxed late, or waiting for the other side."""
    facts = {"title": topic.title, "other": line.name_on(line.side_for(request.person).other)}
    if topic.placements.filter(is_late=True, outcome=Placement.Outcome.UNDECIDED).exists():
        waiting = topic.line.proposals.filter(placement__topic=topic, state="open").exists()
        if waiting:
            return _("“%(title)s” is on the list. It displaces something, so %(other)s is asked.") % facts
        return _("“%(title)s” has free minutes at the end; nothing moved.") % facts
    return f"{_('“%(title)s” is on the list.') % facts} {_as_things_stand(topic)}".strip()


def _as_things_stand(topic: Topic) -> str:
    """Where a topic that asks for time would be discussed, or that it would not."""
    placement = topic.placements.filter(outcome=Placement.Outcome.UNDECIDED).select_related("meeting").first()
    if placement is None:
        return ""
    slot = planning.standing(placement.meeting).plan.slot(str(placement.pk))
    if slot is None:
        return _("As things stand it has no place; the agenda says why.")
    return _("As things stand it begins at %(clock)s and has %(minutes)s.") % {
        "clock": reason_wording.clock_of(placement.meeting)(slot.start),
        "minutes": reason_wording.minutes_words(slot.minutes),
    }


@view(policy=LINE_SIDE, door=access.topic_for_edit, methods=("GET", "POST"))
def edit(request: PersonRequest, topic: Topic) -> HttpResponse:
    """Change one's own topic, after showing the order it would make if that is another one.

    An edit on an older version shows both texts, and overwrites nothing.
    """
    others = topic_cards.others(topic.line, but=topic)
    form = EditTopicForm(posted_data.form_data(request), initial=_initial(topic), others=others)
    texts = None
    if request.method == "POST" and form.is_valid() and change_confirmation.AGAIN not in request.POST:
        with form_refusals.at(form):
            try:
                return _save(request, topic, form)
            except Stale as refusal:
                texts = _both(request, refusal)
                form = EditTopicForm(stale_edits.sent_again(request, refusal), others=others)
        topic.refresh_from_db()
    context = {
        **_about(request, topic.line),
        "topic": topic,
        "form": form,
        "texts": texts,
        "back": redirects.back_path(request, redirects.line_path(topic.line, topic.pk)),
    }
    status = stale_edits.STATUS if texts else form_refusals.status(form)
    return render(request, "agenda/topic_edit.html", context, status=status)


def _save(request: PersonRequest, topic: Topic, form: EditTopicForm) -> HttpResponse:
    def act() -> change_preview.LeadsTo:
        return topics.edit(
            topic=topic,
            wording=form.wording(),
            version=form.cleaned_data["version"],
            actor=request.person,
            now=request.now,
            after=_earlier(topic.line, form),
        )

    return _weigh(
        request,
        topic,
        act,
        change_confirmation.Question(
            title=_("Change “%(title)s”?") % {"title": topic.title},
            key="",
            back=redirects.line_path(topic.line, topic.pk),
            said=_("“%(title)s” is changed.") % {"title": form.cleaned_data["title"]},
            typed=True,
        ),
    )


def _weigh(
    request: PersonRequest, topic: Topic, act: change_preview.Act, question: change_confirmation.Question
) -> HttpResponse:
    """Do what changes a topic; where it makes another order, that is shown first."""
    placement = topic.placements.filter(outcome=Placement.Outcome.UNDECIDED).select_related("meeting__line")
    here = placement.first()
    if here is None:
        act()
        messages.success(request, question.said)
        return redirects.back(request, question.back)
    asked = replace(question, key=str(here.pk))
    return change_confirmation.answer(
        request, here.meeting, act, asked, ask_about=change_confirmation.changes
    )


def _both(request: PersonRequest, refusal: Stale) -> stale_edits.Texts:
    """Title and detail together: either may be what has changed."""
    title, detail = (
        stale_edits.texts(request, refusal, "title"),
        stale_edits.texts(request, refusal, "detail"),
    )
    return stale_edits.Texts(
        yours=f"{title.yours}\n{detail.yours}".strip(), theirs=f"{title.theirs}\n{detail.theirs}".strip()
    )


def _initial(topic: Topic) -> dict[str, object]:
    return {
        "title": topic.title,
        "detail": topic.detail,
        "kind": topic.kind,
        "outcome_wanted": topic.outcome_wanted,
        "minutes_wanted": topic.minutes_wanted,
        "minutes_least": topic.minutes_least,
        "is_sensitive": topic.is_sensitive,
        "every_nth": topic.every_nth,
        "after": [str(pk) for pk in topic.after.values_list("pk", flat=True)],
        "version": topic.version,
    }


@view(policy=LINE_SIDE, door=access.topic_for_edit, methods=("GET", "POST"))
def withdraw(request: PersonRequest, topic: Topic) -> HttpResponse:
    """Take back one's own topic, after saying what that means."""
    if request.method == "POST":
        with form_refusals.told(request):
            topics.withdraw(topic=topic, actor=request.person, now=request.now)
            messages.success(request, _("“%(title)s” is withdrawn.") % {"title": topic.title})
        return redirects.back(request, redirects.line_path(topic.line))
    back = redirects.back_path(request, redirects.line_path(topic.line, topic.pk))
    context = {**_about(request, topic.line), "topic": topic, "back": back}
    return render(request, "agenda/topic_withdraw.html", context)


@view(policy=LINE_SIDE, door=access.topic_for, methods=("POST",))
def park(request: PersonRequest, topic: Topic) -> HttpResponse:
    """Keep a topic on the list with no time asked."""
    with form_refusals.told(request):
        topics.park(topic=topic, actor=request.person, now=request.now)
        messages.success(request, _("“%(title)s” is parked.") % {"title": topic.title})
    return redirects.back_at(request, topic.pk, redirects.line_path(topic.line))


@view(policy=LINE_SIDE, door=access.topic_for, methods=("POST",))
def unpark(request: PersonRequest, topic: Topic) -> HttpResponse:
    """Ask time again for a parked topic."""
    with form_refusals.told(request):
        topics.unpark(topic=topic, actor=request.person, now=request.now)
        messages.success(request, _where_it_is(request, topic.line, topic))
    return redirects.back_at(request, topic.pk, redirects.line_path(topic.line))


@view(policy=LINE_SIDE, door=access.topic_for, methods=("POST",))
def importance(request: PersonRequest, topic: Topic) -> HttpResponse:
    """Say how much a topic matters to one's own side, after showing the order that makes."""
    form = ImportanceForm(request.POST)
    back = redirects.line_path(topic.line, topic.pk)
    if not form.is_valid():
        messages.error(request, _("That is none of: first, in turn, if time allows."))
        return redirects.back(request, back)

    def act() -> None:
        importances.set_importance(
            topic=topic, level=form.cleaned_data["importance"], actor=request.person, now=request.now
        )

    level = topic_wording.level(form.cleaned_data["importance"])
    facts = {"title": topic.title, "level": level}
    question = change_confirmation.Question(
        title=_("“%(title)s” comes %(level)s?") % facts,
        key="",
        back=back,
        said=_("To you “%(title)s” comes %(level)s; both of you see that.") % facts,
    )
    try:
        return _weigh(request, topic, act, question)
    except Refusal as refusal:
        messages.error(request, str(refusal))
        return redirects.back(request, back)


@view(policy=LINE_SIDE, door=access.placement_for_edit, methods=("POST",))
def must(request: PersonRequest, placement: Placement) -> HttpResponse:
    """Mark one's must-discuss, or take the mark away, after showing the order that makes."""
    wanted = request.POST.get("must") != "0"
    back = redirects.agenda_path(placement.meeting, placement.topic_id)
    facts = {"title": placement.topic.title}

    def act() -> change_preview.LeadsTo:
        return topics.set_must(placement=placement, must=wanted, actor=request.person, now=request.now)

    if wanted:
        title = _("“%(title)s” must be discussed?") % facts
        said = _("“%(title)s” must be discussed. One topic of yours at a time can be.") % facts
    else:
        title = _("“%(title)s” no longer must-discuss?") % facts
        said = _("“%(title)s” is no longer must-discuss for you.") % facts
    question = change_confirmation.Question(title=title, key=str(placement.pk), back=back, said=said)
    return change_confirmation.answer_or_say(
        request, placement.meeting, act, question, ask_about=change_confirmation.changes
    )
