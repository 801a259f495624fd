"""Words as pages show them: light markup is taken; nothing in it loads, runs, misleads or takes long."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable
from types import FrameType

import pytest
from django.template import Context, Template
from django.urls import reverse

from accounts.models import Person
from oneonone.models import Meeting, Topic
from oneonone.models.base import WORDS
from oneonone.web import markup
from tests.cast import ClientFor, body_of
from tests.scene import Brought

ALLOWED = {"a", "bdi", "blockquote", "br", "code", "em", "li", "ol", "p", "pre", "strong", "ul"}


def tags(html: str) -> set[str]:
    return set(re.findall(r"</?([a-zA-Z][\w-]*)", html))


def links(html: str) -> list[str]:
    return re.findall(r'href="([^"]*)"', html)


def test_emphasis_lists_quotations_code_and_lines_are_taken() -> None:
    html = markup.html("One *a* and **b**\nnext `c<d>`\n\n- x\n- y\n\n3. z\n\n> q\n\n```\ne & f\n```")
    assert "<em>a</em> and <strong>b</strong><br>" in html
    assert "<code>c&lt;d&gt;</code>" in html
    assert html.count("<li") == 3
    assert '<ol start="3">' in html
    assert "<blockquote" in html
    assert "<code>e &amp; f\n</code></pre>" in html
    assert tags(html) <= ALLOWED


@pytest.mark.parametrize(
    "typed",
    ["# Not a heading", "Under\n=====", "| a | b |\n|---|---|\n| 1 | 2 |", "---", "&#x202e;&amp;&copy;"],
)
def test_what_is_not_taken_is_shown_as_it_was_typed(typed: str) -> None:
    html = markup.html(typed)
    assert tags(html) <= {"p", "br"}
    for piece in typed.splitlines():
        assert piece.replace("&", "&amp;") in html


@pytest.mark.parametrize(
    "typed",
    [
        "<script>alert(1)</script>",
        "<img src=x onerror=alert(1)>",
        "<svg/onload=alert(1)>",
        '<a href="https://example.org" onclick="x()">a</a>',
        "<!-- a --><b>b</b>",
        "<iframe src=//example.org></iframe>",
        "<style>p{display:none}</style>",
        "a <b\nonmouseover=x> b",
        "- <math><mi xlink:href=javascript:x>",
        "`</code><script>x</script>`",
        "```\n</code></pre><script>x</script>\n```",
        '```"><script>x</script>\ny\n```',
    ],
)
def test_typed_html_is_text(typed: str) -> None:
    html = markup.html(typed)
    assert tags(html) <= ALLOWED - {"a"}
    assert re.findall(r"<[^>]*\bon\w+\s*=", html) == []


@pytest.mark.parametrize("leads", ["https://example.org/a?b=1", "http://example.org", "mailto:a@example.org"])
def test_links_lead_to_pages_and_addresses_and_tell_them_nothing(leads: str) -> None:
    html = markup.html(f'[there]({leads} "over")')
    assert links(html) == [leads]
    assert 'rel="noopener noreferrer nofollow"' in html
    assert "over" not in html
    assert links(markup.html(f"<{leads.removeprefix('mailto:')}>")) == [leads]


@pytest.mark.parametrize(
    "leads",
    [
        "javascript:alert(1)",
        "JaVaScRiPt:alert(1)",
        "java&#115;cript:alert(1)",
        "javascript&colon;alert(1)",
        "data:text/html,<script>x</script>",
        "data:image/png;base64,AAAA",
        "vbscript:x",
        "file:///etc/passwd",
        "blob:https://example.org/x",
        "tel:+44",
        "//example.org",
        "/account/logout/",
        "\\\\example.org",
        "http:example.org",
        "https:///example.org",
        "https://bank.example.com@example.org/",
        "https://[::1",
        "x-custom:y",
        "mailto:",
    ],
)
def test_any_other_scheme_is_no_link(leads: str) -> None:
    for typed in (f"[a]({leads})", f"[a](<{leads}>)", f"<{leads}>", f"![a]({leads})"):
        assert links(markup.html(typed)) == []


def test_a_picture_is_never_fetched() -> None:
    html = markup.html("![tide](https://example.org/p.png) [![in](https://example.org/q.png)](https://x.org)")
    assert "img" not in tags(html)
    assert "src" not in html


def test_addresses_cannot_be_defined_elsewhere_in_the_text() -> None:
    typed = "[a]: https://example.org\n\n[a] [b][a] [c][]"
    assert links(markup.html(typed)) == []
    assert "[a]: https://example.org" in markup.html(typed)


def test_definitions_that_refer_to_each_other_stay_what_was_typed() -> None:
    bomb = "\n".join(f"[{n}]: <https://example.org/{n}> '[{n + 1}][{n + 1}]'" for n in range(60))
    assert len(markup.html(bomb)) < 10 * len(bomb)


def test_each_block_finds_its_own_direction_and_links_stay_apart() -> None:
    html = markup.html(
        "שלום\n\nEnglish [\u05d0b](https://example.org)\n\n- \u05d2\n\n> \u05d3\n\n```\n\u05d4\n```"
    )
    for tag in ("p", "li", "blockquote", "pre"):
        assert len(re.findall(f"<{tag}[ >]", html)) == html.count(f'<{tag} dir="auto">') > 0
    assert "<bdi>\u05d0b</bdi></a>" in html


def test_an_override_from_an_older_row_ends_with_its_own_block() -> None:
    """New ones are refused at the door; UAX 9 ends what an override does with its paragraph."""
    html = markup.html("safe \u202egnp.exe\n\nnext")
    assert [p for p in re.findall(r'<p dir="auto">(.*?)</p>', html) if "\u202e" in p] == [
        "safe \u202egnp.exe"
    ]


@pytest.mark.parametrize("typed", ["> " * 1500 + "x", "- " * 1500 + "x", "*a **b " * 500, "[" * 3000])
def test_nesting_is_bounded(typed: str) -> None:
    depth = deepest = 0
    for closing, tag in re.findall(r"<(/?)(\w+)", markup.html(typed)):
        if tag != "br":
            depth += -1 if closing else 1
            deepest = max(deepest, depth)
    assert depth == 0
    assert deepest <= 2 * markup.NESTING


def steps(act: Callable[[], object]) -> int:
    """How many calls of functions an act takes: the same on every machine."""
    count = 0

    def on(frame: FrameType, event: str, arg: object) -> None:
        nonlocal count
        count += event in ("call", "c_call")

    before = sys.getprofile()
    sys.setprofile(on)
    try:
        act()
    finally:
        sys.setprofile(before)
    return count


HOSTILE = ["[", "![", "[a](", "[[a](http://x) ", "*a ", "*a **b ", "_a_ ", "`a", "`" , "<a", "<http:", "\\",
           "> ", "- ", "1. ", "  - a\n", "> a\n", "~~~\n", "*_[`<", "a\n"]  # fmt: skip


@pytest.mark.parametrize("unit", HOSTILE)
def test_twice_the_text_takes_no_more_than_twice_the_steps(unit: str) -> None:
    half, whole = ((unit * WORDS)[:size] for size in (WORDS // 2, WORDS))
    markup.html("warm")
    assert steps(lambda: markup.html(whole)) <= 2.2 * steps(lambda: markup.html(half)) + 200


def test_steps_are_told_apart() -> None:
    """The measure itself: nested loops over the text would be noticed."""

    def quadratic(text: str) -> None:
        for _ in text:
            for _ in text:
                len(text)

    assert steps(lambda: quadratic("a" * 80)) > 2.2 * steps(lambda: quadratic("a" * 40)) + 200


def test_text_longer_than_any_field_is_shown_without_a_look_at_its_markup() -> None:
    html = markup.html("*a* <b> " * WORDS)
    assert tags(html) == {"p"}
    assert "*a* &lt;b&gt;" in html


def test_what_passes_the_parser_by_accident_does_not_pass_the_list(monkeypatch: pytest.MonkeyPatch) -> None:
    class Faulty:
        def render(self, words: str) -> str:
            return f'<p onclick="x">{words}</p><script>x</script><a href="javascript:x" target="_blank">y</a>'

    monkeypatch.setattr(markup, "_parser", Faulty)
    html = markup.html('<img src="https://example.org/x.png"><h1>z</h1>')
    assert tags(html) == {"p", "a"}
    assert links(html) == []
    assert "onclick" not in html


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("Ask **before** the *others*", "Ask before the others"),
        ("- one\n- `two`\n\n> three", "one\ntwo\nthree"),
        ("a\nb", "a\nb"),
        ("[the rota](https://example.org/x)", "the rota"),
        ("```\ncode\n```\n# not a heading", "code\n# not a heading"),
        ("<b>2 * 3</b> &amp;", "<b>2 * 3</b> &amp;"),
        ("*" * (WORDS + 1), "*" * (WORDS + 1)),
    ],
)
def test_what_is_read_of_words_is_without_their_marks(typed: str, read: str) -> None:
    assert markup.plain(typed) == read


def test_the_filter_frames_words_and_leaves_no_frame_without() -> None:
    shown = Template("{% load markup %}{{ words|markup }}")
    assert shown.render(Context({"words": "*a*"})) == (
        '<div class="markup" dir="auto"><p dir="auto"><em>a</em></p>\n</div>'
    )
    assert shown.render(Context({"words": ""})) == ""


def test_a_topic_is_shown_with_markup_and_kept_as_typed(
    client_for: ClientFor, meeting: Meeting, brought: Brought, manager: Person, report: Person
) -> None:
    typed = "**Both** cranes <script>x</script> [plan](https://example.org)"
    Topic.objects.filter(pk=brought.crane.pk).update(detail=typed)
    for reader in (manager, report):
        body = body_of(client_for(reader).get(reverse("meeting", args=[meeting.pk])))
        assert "<strong>Both</strong> cranes &lt;script&gt;" in body
        assert 'href="https://example.org" rel="noopener noreferrer nofollow"' in body
    brought.crane.refresh_from_db()
    assert brought.crane.detail == typed


def test_a_note_comes_back_into_its_field_as_typed(
    client_for: ClientFor, meeting: Meeting, brought: Brought, report: Person
) -> None:
    client = client_for(report)
    note = reverse("margin-write", kwargs={"topic_id": brought.crane.pk})
    client.post(note, {"words": "- *first*\n- <b>", "revision": 0})
    assert "- *first*\n- &lt;b&gt;</textarea>" in body_of(client.get(note))
    assert "<em>first</em></li>" in body_of(client.get(reverse("meeting", args=[meeting.pk])))


@pytest.mark.parametrize(
    "words",
    [
        "Roster: no relief clerk in October. Next time ask for cover in week one.",
        "Ünder ’way’ (10 % done) now?",
        "a",
    ],
)
def test_plain_sentences_become_the_same_whether_or_not_they_are_parsed(
    words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert markup.SENTENCES.fullmatch(words)
    unparsed = markup.html(words)
    monkeypatch.setattr(markup, "SENTENCES", re.compile("(?!)"))
    assert markup.html(words) == unparsed


@pytest.mark.parametrize(
    "words",
    [
        "*a*",
        "1. a",
        "- a",
        "> a",
        "a_b_",
        "a [b](c)",
        "a\nb",
        "a <b",
        "a & b",
        "`a`",
        "a\\*",
        " a",
        "a ",
        '"',
    ],
)
def test_whatever_may_be_markup_is_parsed(words: str) -> None:
    assert not markup.SENTENCES.fullmatch(words)
