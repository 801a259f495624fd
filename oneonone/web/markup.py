"""Words of people as a page shows them: light Markdown, nothing that loads, runs or misleads.

What was typed stays in its row as it was typed. Here it goes through CommonMark (https://spec.commonmark.org)
without raw HTML, and what comes out through an allow-list of tags and attributes, so that a fault in the one
is caught by the other (OWASP ASVS 5.0, 1.3.5 and 1.2.2).

=====================  ==============================================================================
taken                  emphasis, strong emphasis, lists, quotations, code, links, line breaks as typed
shown as typed         HTML, character references, headings, tables, rules, indented code, link definitions
links                  http, https and mailto, whole addresses without a user in them; the page they lead to
                       learns nothing of ours
pictures               a link to them; one shown would be fetched, and tell that the page was read
direction              each block by its own first letter, and apart from what stands around it
=====================  ==============================================================================
"""

from __future__ import annotations

import functools
import re
from urllib.parse import urlsplit

import nh3
from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe
from markdown_it import MarkdownIt
from markdown_it.renderer import RendererHTML
from markdown_it.rules_core import StateCore
from markdown_it.token import Token
from markdown_it.utils import EnvType, OptionsDict

from oneonone.models.base import WORDS

# Lists in lists in quotations: deeper ones are shown as typed.
NESTING = 12
TAGS = {"a", "bdi", "blockquote", "br", "code", "em", "li", "ol", "p", "pre", "strong", "ul"}
BLOCKS = {"blockquote", "li", "p", "pre"}
ATTRIBUTES = {"a": {"href"}, "ol": {"start"}, "*": set()} | {tag: {"dir"} for tag in BLOCKS}
SCHEMES = {"http", "https", "mailto"}
SENTENCES = re.compile(r"[^\W\d_](?:(?:[^\W_]|[ ,;:?.’“”–—()%])*[^\W_ ])?[.?]?")
"""One paragraph in which nothing can be markup: parsing would change nothing."""
REL = "noopener noreferrer nofollow"


def html(words: str) -> SafeString:
    """The words as blocks of markup. Longer text than any field takes is not looked at for markup."""
    if len(words) > WORDS:
        return mark_safe(f'<p dir="auto">{escape(words)}</p>')  # noqa: S308  # escaped
    if SENTENCES.fullmatch(words):
        return mark_safe(f'<p dir="auto">{words}</p>\n')  # noqa: S308  # nothing to escape
    return mark_safe(_cleaned(_parser().render(words)))  # noqa: S308  # through the allow-list


def plain(words: str) -> str:
    """The words as they are read: without the marks of their markup, block after block."""
    if len(words) > WORDS:
        return words
    blocks = []
    for token in _parser().parse(words):
        if token.type == "inline":
            blocks.append("".join(_read(part) for part in token.children or ()))
        elif token.type == "fence":
            blocks.append(token.content.rstrip("\n"))
    return "\n".join(blocks)


def _read(part: Token) -> str:
    return "\n" if part.type in ("softbreak", "hardbreak") else part.content


def _cleaned(made: str) -> str:
    return nh3.clean(made, tags=TAGS, attributes=ATTRIBUTES, url_schemes=SCHEMES, link_rel=REL)


@functools.lru_cache(maxsize=1)
def _parser() -> MarkdownIt:
    parser = MarkdownIt("zero", {"html": False, "breaks": True, "maxNesting": NESTING})
    parser.enable(["list", "blockquote", "fence"])
    parser.enable(["newline", "escape", "backticks", "emphasis", "link", "autolink"])
    parser.enable(["balance_pairs", "fragments_join"])
    parser.validateLink = leads_somewhere_known  # type: ignore[method-assign, assignment]  # its hook
    parser.core.ruler.push("directions", _directions)
    parser.add_render_rule("fence", _fence)
    return parser


def leads_somewhere_known(address: str) -> bool:
    """Whether a link may lead there: a whole http or https address, or one for mail.

    Anything before an @ in the former could pass for the name of another host.
    """
    try:
        parts = urlsplit(address)
    except ValueError:
        return False
    if parts.scheme == "mailto":
        return bool(parts.path)
    return parts.scheme in ("http", "https") and bool(parts.hostname) and "@" not in parts.netloc


def _directions(state: StateCore) -> None:
    """Let each block find its direction, and keep the text of links from reordering what follows."""
    for token in state.tokens:
        if token.nesting == 1 and token.tag in BLOCKS:
            token.attrSet("dir", "auto")
        if token.children:
            token.children = [part for child in token.children for part in _apart(child)]


def _apart(token: Token) -> list[Token]:
    if token.type == "link_open":
        return [token, Token("bdi_open", "bdi", 1)]
    if token.type == "link_close":
        return [Token("bdi_close", "bdi", -1), token]
    return [token]


def _fence(renderer: RendererHTML, tokens: list[Token], at: int, options: OptionsDict, env: EnvType) -> str:
    return f'<pre dir="auto"><code>{escape(tokens[at].content)}</code></pre>\n'
