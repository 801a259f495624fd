"""Every element on one page, for tests and for looking at.

``python -m tests.web.gallery.render FOLDER`` writes it. The page is rendered by an engine of its own, so that
it needs neither the server's settings nor its addresses.
"""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, time
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import django
from django.conf import settings
from django.core.paginator import Paginator
from django.template.backends.django import DjangoTemplates
from django.test import RequestFactory
from django.urls import get_urlconf, set_urlconf

HERE = Path(__file__).parent
TEMPLATES = HERE.parents[2] / "oneonone" / "templates"
STATIC = HERE.parents[2] / "oneonone" / "static"
URLCONF = "tests.web.gallery.urls"


def engine() -> DjangoTemplates:
    return DjangoTemplates(
        {
            "NAME": "gallery",
            "DIRS": [TEMPLATES, HERE],
            "APP_DIRS": False,
            "OPTIONS": {
                "libraries": {"elements": "oneonone.templatetags.elements"},
                "context_processors": ["django.template.context_processors.request"],
                "string_if_invalid": "",
            },
        }
    )


@contextmanager
def addresses() -> Iterator[None]:
    """Links lead to the gallery's own addresses within this block."""
    before = get_urlconf()
    set_urlconf(URLCONF)
    try:
        yield
    finally:
        set_urlconf(before)


def fragment(source: str, /, **values: Any) -> str:
    """Markup of a piece of template that has the elements loaded."""
    template = engine().from_string("{% load i18n elements %}" + source)
    with addresses():
        return str(template.render(values, RequestFactory().get("/cadence/?all=1")))


def page(name: str = "gallery.html", /, **values: Any) -> str:
    """A whole page as the server would send it."""
    request = RequestFactory().get("/lines/?kind=idea&page=2")
    request.resolver_match = SimpleNamespace(url_name="lines")  # type: ignore[assignment]
    with addresses():
        return str(engine().get_template(name).render({**_context(), **values}, request))


def _context() -> dict[str, Any]:
    from tests.web.gallery.forms import empty_form, refused_form

    at = datetime(2026, 12, 3, 10, 0, tzinfo=UTC)
    return {
        "organisation_name": "Alder Quay Ferries",
        "user": SimpleNamespace(is_administrator=True),
        "demo": SimpleNamespace(now=datetime(2026, 11, 30, 12, 0, tzinfo=UTC), mail=True),
        "messages": ["The topic is on the list. Ines sees it now."],
        "form": empty_form(),
        "refused": refused_form(),
        "at": at,
        "end": time(10, 50),
        "slot_times": {minute: time(10, minute) for minute in (0, 10, 23, 30, 38, 43, 46)},
        "list_page": Paginator(range(60), 20).page(2),
        "long": "Watertight door drills on the early boat: who signs off, where the paper log goes, and what "
        "Verkehrssicherheitsüberprüfungsbescheinigung means for us",
    }


def write(folder: Path) -> None:
    """The gallery and the fault pages, light and dark, linked to ``/static/`` as the server does."""
    folder.mkdir(parents=True, exist_ok=True)
    for theme in ("light", "dark"):
        (folder / f"gallery-{theme}.html").write_text(page(theme=theme))
    (folder / "signed-out.html").write_text(page("signed_out.html"))
    for fault in ("400", "403", "404", "500"):
        (folder / f"{fault}.html").write_text(page(f"{fault}.html"))


if __name__ == "__main__":
    settings.configure(
        USE_TZ=True, TIME_ZONE="UTC", STATIC_URL="/static/", LANGUAGE_CODE="en-gb", ROOT_URLCONF=URLCONF
    )
    django.setup()
    write(Path(sys.argv[1]))
