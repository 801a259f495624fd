"""Topics: added, edited, weighed, moved by hand, parked and withdrawn."""

from __future__ import annotations

from uuid import uuid4

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from oneonone import access
from oneonone.models import Line, Placement, Topic
from oneonone.selectors import cards, order
from oneonone.services import agenda, topics
from oneonone.services.refusals import Stale
from oneonone.web import going, movewords, refused, sent, stale
from oneonone.web.forms.topics import EditTopicForm, ImportanceForm, MoveForm, NewTopicForm
from oneonone.web.policy import LINE_SIDE, PersonRequest, view


@view(policy=LINE_SIDE, door=access.line_for_edit, methods=("GET", "POST"))
def add(request: PersonRequest, line: Line) -> HttpResponse:
    """Add a topic: by one line and a kind, or with everything that can be said of it."""
    form = NewTopicForm(_with_usual(request), initial={"client_key": uuid4()}, others=cards.others(line))
    if request.method == "POST" and form.is_valid():
        with refused.at(form):
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
            return going.back(request, going.line_path(line, topic.pk))
    context = {
        **_about(request, line),
        "form": form,
        "back": going.back_path(request, going.line_path(line)),
    }
    return render(request, "pages/topic_add.html", context, status=refused.status(form))


def _with_usual(request: PersonRequest) -> object:
    """What was sent, with the usual where the one-line form leaves something out."""
    if request.method != "POST":
        return None
    data = request.POST.copy()
    data.setdefault("outcome_wanted", Topic.Outcome.INFORM.value)
    data.setdefault("importance", "in_turn")
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
    return _("“%(title)s” is on the list.") % facts


@view(policy=LINE_SIDE, door=access.topic_for_edit, methods=("GET", "POST"))
def edit(request: PersonRequest, topic: Topic) -> HttpResponse:
    """Change one's own topic. An edit on an older version shows both texts, and overwrites nothing."""
    line, others = topic.line, cards.others(topic.line, but=topic)
    form = EditTopicForm(sent.form_data(request), initial=_initial(topic), others=others)
    texts = None
    if request.method == "POST" and form.is_valid():
        with refused.at(form):
            try:
                _save(request, topic, form)
                return going.back(request, going.line_path(line, topic.pk))
            except Stale as refusal:
                texts = _both(request, refusal)
                form = EditTopicForm(stale.sent_again(request, refusal), others=others)
    context = {
        **_about(request, line),
        "topic": topic,
        "form": form,
        "texts": texts,
        "back": going.back_path(request, going.line_path(line, topic.pk)),
    }
    status = stale.STATUS if texts else refused.status(form)
    return render(request, "pages/topic_edit.html", context, status=status)


def _save(request: PersonRequest, topic: Topic, form: EditTopicForm) -> None:
    topics.edit(
        topic=topic,
        wording=form.wording(),
        version=form.cleaned_data["version"],
        actor=request.person,
        now=request.now,
        after=_earlier(topic.line, form),
    )
    messages.success(request, _("“%(title)s” is changed.") % {"title": topic.title})


def _both(request: PersonRequest, refusal: Stale) -> stale.Texts:
    """Title and detail together: either may be what has changed."""
    title, detail = stale.texts(request, refusal, "title"), stale.texts(request, refusal, "detail")
    return stale.Texts(
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
        with refused.told(request):
            topics.withdraw(topic=topic, actor=request.person, now=request.now)
            messages.success(request, _("“%(title)s” is withdrawn.") % {"title": topic.title})
        return going.back(request, going.line_path(topic.line))
    back = going.back_path(request, going.line_path(topic.line, topic.pk))
    context = {**_about(request, topic.line), "topic": topic, "back": back}
    return render(request, "pages/topic_withdraw.html", context)


@view(policy=LINE_SIDE, door=access.topic_for, methods=("POST",))
def park(request: PersonRequest, topic: Topic) -> HttpResponse:
    """Keep a topic on the list with no time asked."""
    with refused.told(request):
        topics.park(topic=topic, actor=request.person, now=request.now)
        messages.success(request, _("“%(title)s” is parked.") % {"title": topic.title})
    return going.back(request, going.line_path(topic.line))


@view(policy=LINE_SIDE, door=access.topic_for, methods=("POST",))
def unpark(request: PersonRequest, topic: Topic) -> HttpResponse:
    """Ask time again for a parked topic."""
    with refused.told(request):
        topics.unpark(topic=topic, actor=request.person, now=request.now)
        messages.success(request, _where_it_is(request, topic.line, topic))
    return going.back(request, going.line_path(topic.line, topic.pk))


@view(policy=LINE_SIDE, door=access.topic_for, methods=("POST",))
def importance(request: PersonRequest, topic: Topic) -> HttpResponse:
    """Say how much a topic matters to one's own side."""
    form = ImportanceForm(request.POST)
    if form.is_valid():
        with refused.told(request):
            topics.set_importance(
                topic=topic, level=form.cleaned_data["importance"], actor=request.person, now=request.now
            )
            messages.success(request, _("Both of you see how much it matters to you."))
    else:
        messages.error(request, _("That is none of: first, in turn, if time allows."))
    return going.back(request, going.line_path(topic.line, topic.pk))


@view(policy=LINE_SIDE, door=access.placement_for_edit, methods=("POST",))
def must(request: PersonRequest, placement: Placement) -> HttpResponse:
    """Mark one's must-discuss, or take the mark away."""
    wanted = request.POST.get("must") != "0"
    with refused.told(request):
        topics.set_must(placement=placement, must=wanted, actor=request.person, now=request.now)
        said = (
            _("“%(title)s” must be discussed. One topic of yours at a time can be.")
            if wanted
            else _("“%(title)s” is no longer must-discuss for you.")
        )
        messages.success(request, said % {"title": placement.topic.title})
    return going.back(request, going.agenda_path(placement.meeting, placement.topic_id))


@view(policy=LINE_SIDE, door=access.placement_for_edit, methods=("POST",))
def move(request: PersonRequest, placement: Placement) -> HttpResponse:
    """Move a topic by hand, so many places or to a position, and say what that costs."""
    form = MoveForm(request.POST)
    if not form.is_valid():
        messages.error(request, _("Say how many places, or which position from 1 on."))
        return going.back(request, going.agenda_path(placement.meeting, placement.topic_id))
    goes_to = going.agenda_path(placement.meeting, placement.topic_id)
    with refused.told(request):
        moved = agenda.move(
            placement=placement,
            places=_places(request, placement, form),
            actor=request.person,
            now=request.now,
        )
        messages.success(request, movewords.what_it_cost(placement, moved))
        goes_to = _beside_the_hand(placement, moved, form)
    return going.back(request, goes_to)


def _beside_the_hand(placement: Placement, moved: agenda.Moved, form: MoveForm) -> str:
    """The page at the button that was pressed, or its neighbour at an end: it has the focus at once again."""
    places: int | None = form.cleaned_data["places"]
    keys = [slot["key"] for slot in moved.order.plan["slots"]]
    if not places or str(placement.pk) not in keys or len(keys) == 1:
        return going.agenda_path(placement.meeting, placement.topic_id)
    at = keys.index(str(placement.pk))
    word = "earlier" if (places < 0 and at > 0) or at == len(keys) - 1 else "later"
    return f"{going.agenda_path(placement.meeting)}#move-{word}-{placement.topic_id}"


def _places(request: PersonRequest, placement: Placement, form: MoveForm) -> int:
    places: int | None = form.cleaned_data["places"]
    if places:
        return places
    shown, _margin = order.of(request.person, placement.meeting)
    now_at = next((box.position for box in shown.boxes if box.topic.placement_id == placement.pk), 1)
    return int(form.cleaned_data["position"]) - now_at
