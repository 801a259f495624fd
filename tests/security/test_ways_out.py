"""What leaves the server, and by which code: static rules, and what every answer says of itself."""

from __future__ import annotations

import ast

import pytest
from django import forms

from tests.architecture.tree import PACKAGES, imported_roots, sources
from tests.security.matrix import Matrix, undone, unlogged
from tests.security.rows import IN, ROWS, Row
from tests.security.test_static_rules import _imports

# --- connections that the server opens ------------------------------------------------------------------
# ASVS 5.0, 13.1.1 and 1.3.6. Each: where it connects to, which nobody who uses a page can say.
CLIENTS = {
    "oneonone/web/signing_in/providers.py": "the provider that the operator configured, through the library",
    "oneonone/mail/smtp.py": "the mail server that the operator configured",
    "oneonone/mail/post.py": "the words of a mail server's answers; it opens nothing itself",
    "oneonone/serving/launch.py": "a port of its own, to see whether it is free",
    "oneonone/serving/listener.py": "a port of its own, to listen on",
    "oneonone/serving/server.py": "the sockets of its own listener",
}
OPENING = {"requests", "httpx", "aiohttp", "urllib3", "smtplib", "socket", "ftplib", "telnetlib", "redis"}


def opens(tree: ast.Module) -> bool:
    """Whether a file imports something that can open a connection."""
    return bool(imported_roots(tree) & OPENING or _imports(tree) & {"urllib.request", "http.client"})


def test_connections_are_opened_by_the_files_on_the_list_alone() -> None:
    found = {str(file) for file, tree in sources(*PACKAGES) if opens(tree)}
    assert found == set(CLIENTS)


@pytest.mark.parametrize(
    "wrong", ["import requests", "from urllib.request import urlopen", "import http.client", "import socket"]
)
def test_another_file_that_opens_one_would_be_noticed(wrong: str) -> None:
    assert opens(ast.parse(wrong))
    assert not opens(ast.parse("from urllib.parse import urlsplit"))


# --- templates and forms --------------------------------------------------------------------------------
def makes_templates(tree: ast.AST) -> bool:
    """Whether a file makes a template of a text (ASVS 5.0, 1.3.7)."""
    names = {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
    called = {
        node.func.id
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
    }
    return bool({"from_string"} & names or {"Template", "Engine"} & called)


def test_no_template_is_made_of_a_text() -> None:
    assert [str(file) for file, tree in sources(*PACKAGES) if makes_templates(tree)] == []
    assert makes_templates(ast.parse("Template(topic.title).render(Context())"))
    assert makes_templates(ast.parse("engines['django'].from_string(words)"))


def forms_of_models(tree: ast.AST) -> set[str]:
    names = {node.id for node in ast.walk(tree) if isinstance(node, ast.Name)}
    attributes = {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
    return (names | attributes) & {"ModelForm", "ModelSerializer", "modelform_factory"}


def test_no_form_takes_its_fields_from_a_model() -> None:
    """ASVS 5.0, 15.3.3: a column that is added later is not written by a form that nobody looked at."""
    assert {str(file): found for file, tree in sources(*PACKAGES) if (found := forms_of_models(tree))} == {}
    assert forms_of_models(ast.parse("class A(forms.ModelForm): ..."))
    assert issubclass(forms.ModelForm, forms.BaseForm)


# --- what answers say of themselves ---------------------------------------------------------------------
KINDS = {
    "text/html; charset=utf-8",
    "text/csv; charset=utf-8",
    "text/markdown; charset=utf-8",
    "application/json; charset=utf-8",
}


@pytest.mark.django_db
@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.key)
def test_every_answer_says_what_it_is_to_this_site_alone_and_is_not_kept(matrix: Matrix, row: Row) -> None:
    """ASVS 5.0, 4.1.1, 3.4.2 and 14.3.2: for somebody let in, and for whoever is refused."""
    cell = next(cell for cell in matrix.cells(row, row.methods) if cell.verdict == IN)
    usual = row.send(matrix.world) if callable(row.send) else row.send
    for actor in (cell.actor, "outsider", "anonymous"):
        for method in (*row.methods, "TRACE"):
            with undone(), unlogged():
                browser = matrix.browsers[actor]
                data = usual if method == "POST" else None
                answer = browser.ask(
                    method, matrix.path(row, cell.thing), data, HTTP_ORIGIN="http://localhost"
                )
            if answer.body:
                assert answer.header("Content-Type") in KINDS, f"{method} as {actor}"
            assert not [name for name, _said in answer.headers if name.lower().startswith("access-control")]
            if actor != "anonymous":
                assert "no-store" in answer.header("Cache-Control"), f"{method} as {actor}"
