"""What the pages say of an entry of the logbook."""

from __future__ import annotations

from dataclasses import dataclass, field

from oneonone.models import LogbookEntry, Topic
from oneonone.selectors.private.logbook_entry import DETAIL, PROMPTS, EntryContent
from oneonone.web.private.logbook_forms import DETAIL_CHOICES

_OUTCOMES = {
    LogbookEntry.Wanted.DECISION: Topic.Outcome.DECIDE,
    LogbookEntry.Wanted.ADVICE: Topic.Outcome.ADVISE,
    LogbookEntry.Wanted.ACTION: Topic.Outcome.SOLVE,
    LogbookEntry.Wanted.KNOW: Topic.Outcome.INFORM,
}


@dataclass(frozen=True)
class Said:
    """One prompt with what was answered. ``is_link`` for evidence."""

    name: str
    label: str
    text: str = field(repr=False)
    is_link: bool = False


def details(content: EntryContent) -> list[Said]:
    """The prompts that were answered, in the order of the form."""
    found = []
    for name, label in PROMPTS[content.kind].items():
        text = content.details.get(name, "")
        if text:
            words = str(dict(DETAIL_CHOICES[name]).get(text, text)) if name in DETAIL_CHOICES else text
            found.append(Said(name, "" if name == DETAIL else str(label), words, is_link=name == "evidence"))
    return found


def outcome_wanted(content: EntryContent) -> str:
    """What a topic made of the entry asks for: what an obstacle wants, else that both know."""
    wanted = content.details.get("wanted", "")
    return str(_OUTCOMES[LogbookEntry.Wanted(wanted)]) if wanted else str(Topic.Outcome.INFORM)
