"""Rules that the source itself has to keep, each with a wrong line that it would notice.

What is allowed stands in short lists with the reason; a line that is no longer there makes its entry stale,
and a stale entry fails too.
"""

from __future__ import annotations

import ast
import inspect
import re
from collections.abc import Callable, Iterable
from pathlib import Path

import pytest
from django.apps import apps
from django.db import models

from oneonone.celery import app
from oneonone.models.base import PRIVATE, SHARED
from tests.architecture.tree import PACKAGES, PROJECT, imported_roots, sources

OURS = [model for model in apps.get_models() if model.__module__.startswith(("oneonone.", "accounts."))]
TEMPLATES = PROJECT / "oneonone" / "templates"

# --- text that templates take as it is -----------------------------------------------------------------
# ASVS 5.0, 1.2.1. Each: where, and why it cannot hold anybody's words as markup.
MARKED_SAFE = {
    "oneonone/templatetags/cadencing.py": "constant attributes, and numbers put in bold in escaped text",
    "oneonone/templatetags/markup.py": "an empty string where there are no words",
    "oneonone/web/markup.py": "people's words, after Markdown without HTML and an allow-list of tags",
}
UNESCAPED = {
    "mail/base.txt": "plain text: a mail has no markup",
    "mail/account.txt": "plain text: a mail has no markup",
    "account/email/base_message.txt": "plain text: a mail has no markup",
}
SAFE = re.compile(r"\|\s*(?:safe|safeseq)\b|autoescape\s+off")


def marked_safe(tree: ast.AST) -> bool:
    """Whether a file makes markup of a string by itself."""
    names = {node.id for node in ast.walk(tree) if isinstance(node, ast.Name)}
    called = [node.func for node in ast.walk(tree) if isinstance(node, ast.Call)]
    return "mark_safe" in names or "SafeString" in {node.id for node in called if isinstance(node, ast.Name)}


def test_nothing_is_marked_safe_outside_the_list() -> None:
    found = {str(file) for file, tree in sources(*PACKAGES) if marked_safe(tree)}
    assert found == set(MARKED_SAFE)


def test_no_template_leaves_text_unescaped_but_those_of_plain_mails() -> None:
    found = {
        str(file.relative_to(TEMPLATES))
        for file in TEMPLATES.rglob("*.*")
        if SAFE.search(file.read_text(encoding="utf-8"))
    }
    assert found == set(UNESCAPED)
    assert all(name.endswith(".txt") for name in found)


@pytest.mark.parametrize("wrong", ["{{ topic.title|safe }}", "{{ x | safe }}", "{% autoescape off %}"])
def test_unescaped_text_would_be_noticed(wrong: str) -> None:
    assert SAFE.search(wrong)
    assert marked_safe(ast.parse("html = mark_safe(topic.title)"))


# --- SQL of our own ------------------------------------------------------------------------------------
# ASVS 5.0, 1.2.4. Statements that are put together, with what is put in.
PUT_TOGETHER = {
    "oneonone/selectors/cadence/reporting_tree.py": "names of tables, quoted by the framework",
    "oneonone/selectors/cadence/lines_below.py": "names of tables, quoted by the framework; the tree's query",
    "oneonone/services/commitments/carrying.py": "nothing: one of two statements, by the engine",
    "oneonone/management/commands/jobs_role.py": "names of tables, and of a role that is there, quoted",
}
RAW = {"raw", "extra", "execute", "executemany", "executescript", "RawSQL"}


def raw_sql(tree: ast.AST) -> list[ast.Call]:
    """Calls that hand a statement to the database."""
    return [
        node
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        and node.args
        and (
            (isinstance(node.func, ast.Attribute) and node.func.attr in RAW)
            or (isinstance(node.func, ast.Name) and node.func.id in RAW)
        )
    ]


def is_put_together(statement: ast.expr) -> bool:
    """Anything but a literal: a name, a call of format, an f-string, a sum, a remainder."""
    return not (isinstance(statement, ast.Constant) and isinstance(statement.value, str))


def test_statements_are_literal_outside_the_list() -> None:
    found = {
        str(file)
        for file, tree in sources(*PACKAGES)
        if "migrations" not in file.parts and any(is_put_together(call.args[0]) for call in raw_sql(tree))
    }
    assert found == set(PUT_TOGETHER)


@pytest.mark.parametrize(
    "wrong",
    ['cursor.execute(f"SELECT {x}")', 'c.execute("SELECT %s" % x)', "Line.objects.raw(sql)", "RawSQL(a + b)"],
)
def test_a_statement_put_together_would_be_noticed(wrong: str) -> None:
    calls = raw_sql(ast.parse(wrong))
    assert [is_put_together(call.args[0]) for call in calls] == [True]


def test_no_shell_is_asked_and_nothing_is_unpickled() -> None:
    """ASVS 5.0, 1.2.5 and 1.5.2."""
    found = [
        f"{file}:{node.lineno}"
        for file, tree in sources(*PACKAGES)
        for node in ast.walk(tree)
        if (isinstance(node, ast.keyword) and node.arg == "shell")
        or (isinstance(node, ast.Name) and node.id in ("eval", "exec"))
        or (isinstance(node, ast.Attribute) and node.attr in ("system", "popen"))
    ]
    unpickled = {str(f) for f, tree in sources(*PACKAGES) if imported_roots(tree) & {"pickle", "marshal"}}
    assert (found, unpickled) == ([], set())


# --- private rows ---------------------------------------------------------------------------------------
def test_no_shared_row_points_at_a_private_one() -> None:
    """Such a column would tell that a note is there, and lead to it by a join."""
    found = [
        f"{model.__name__}.{field.name}"
        for model in OURS
        if model.privacy != PRIVATE  # type: ignore[attr-defined]
        for field in model._meta.get_fields()
        if field.is_relation and field.concrete and getattr(field.related_model, "privacy", SHARED) == PRIVATE
    ]
    assert found == []


def test_no_shared_row_can_be_joined_to_a_private_one_backwards() -> None:
    found = [
        f"{model.__name__}.{relation.get_accessor_name()}"
        for model in OURS
        for relation in model._meta.related_objects
        if getattr(relation.related_model, "privacy", SHARED) == PRIVATE and not relation.hidden
    ]
    assert found == []


def test_private_rows_are_in_no_admin_and_no_serializer() -> None:
    private = {model.__name__ for model in OURS if model.privacy == PRIVATE}  # type: ignore[attr-defined]
    assert private >= {"MarginNote", "LogbookEntry", "Preparation", "CommitmentPlan", "PersonKey"}
    found = [
        f"{file}: {name}"
        for file, tree in sources(*PACKAGES)
        if file.stem in ("admin", "serializers") or "api" in file.parts
        for name in private & {node.id for node in ast.walk(tree) if isinstance(node, ast.Name)}
    ]
    registered = [str(f) for f, tree in sources(*PACKAGES) if "django.contrib.admin" in _imports(tree)]
    every_field = [str(f) for f, tree in sources(*PACKAGES) if _every_field(tree)]
    assert (found, registered, every_field) == ([], [], [])


def _imports(tree: ast.AST) -> set[str]:
    return {
        name
        for node in ast.walk(tree)
        if isinstance(node, ast.Import | ast.ImportFrom)
        for name in [
            *(alias.name for alias in node.names),
            *([node.module or ""] if isinstance(node, ast.ImportFrom) else []),
        ]
    }


def _every_field(tree: ast.AST) -> bool:
    """``fields = "__all__"`` or ``exclude = ...`` in a Meta: a column added later would be shown."""
    return any(isinstance(node, ast.Constant) and node.value == "__all__" for node in ast.walk(tree))


def test_private_rows_are_given_by_naming_their_reader_only() -> None:
    for model in OURS:
        if model.privacy == PRIVATE:  # type: ignore[attr-defined]
            with pytest.raises(RuntimeError):
                model.objects.all()  # type: ignore[attr-defined]
            with pytest.raises(RuntimeError):
                model._default_manager.get_queryset()


# --- what rows say of themselves ------------------------------------------------------------------------
WORDY = (models.CharField, models.TextField, models.JSONField, models.BinaryField)


def told(model: type[models.Model], word: str) -> str:
    """What a row with this word in all its texts says of itself, in every way that a log may ask."""
    texts = {
        field.attname: word.encode() if isinstance(field, models.BinaryField) else word
        for field in model._meta.concrete_fields
        if isinstance(field, WORDY)
    }
    row = model(**texts)
    return f"{row}{row!r}{[row]!r}{row!s}" + "%s %r" % (row, row)  # noqa: UP031  # as logs do


@pytest.mark.parametrize("model", OURS, ids=lambda model: model.__name__)
def test_a_row_says_its_class_and_id_and_no_text(model: type[models.Model]) -> None:
    assert "halyard" not in told(model, "halyard")


def test_a_row_that_tells_its_text_would_be_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    topic = next(model for model in OURS if model.__name__ == "Topic")
    monkeypatch.setattr(topic, "__str__", lambda row: row.title)
    assert "halyard" in told(topic, "halyard")


def test_people_are_no_exception() -> None:
    people = [model for model in OURS if model.__name__ == "Person"]
    assert ["halyard" in told(model, "halyard") for model in people] == [False]


# --- tasks ----------------------------------------------------------------------------------------------
ID_TYPES = {"str", "UUID", "uuid.UUID", "int"}


def wordy_arguments(function: Callable[..., object]) -> list[str]:
    """Parameters of a task that are not plainly ids: another type, or a name that says something else."""
    return [
        name
        for name, parameter in inspect.signature(function).parameters.items()
        if str(parameter.annotation) not in ID_TYPES or not re.search(r"(?:^|_)(?:id|ids|pk)$", name)
    ]


def test_tasks_take_ids_only() -> None:
    app.loader.import_default_modules()
    ours = {name: task for name, task in app.tasks.items() if name.startswith("tasks.")}
    assert ours
    assert {name: wordy_arguments(task.run) for name, task in ours.items() if wordy_arguments(task.run)} == {}


def test_a_task_that_takes_text_would_be_noticed() -> None:
    def tell(words: str, topic: models.Model, note_id: str) -> None:
        """Would carry words through the broker."""

    assert wordy_arguments(tell) == ["words", "topic"]


def test_messages_are_json_and_no_result_is_kept() -> None:
    assert (app.conf.task_serializer, app.conf.accept_content) == ("json", ["json"])
    assert app.conf.task_ignore_result
    assert app.conf.result_backend is None


# --- the arrows that keep words in ---------------------------------------------------------------------
FACES = ("oneonone.web", "oneonone.api", "oneonone.live", "oneonone.mail", "oneonone.calendars",
         "oneonone.sheet", "tasks", "django.http", "django.shortcuts", "rest_framework")  # fmt: skip
BELOW = ("oneonone/services", "oneonone/selectors", "oneonone/models", "accounts/services", "accounts/models")


def faces_in(files: Iterable[tuple[Path, ast.Module]]) -> list[str]:
    return [
        f"{file}: {name}" for file, tree in files for name in sorted(_imports(tree)) if name.startswith(FACES)
    ]


def test_services_never_import_a_face() -> None:
    assert faces_in(sources(*BELOW)) == []
    wrong = ast.parse("from oneonone.web import links\nimport django.http\n")
    assert len(faces_in([(Path("x.py"), wrong)])) == 2


# --- views ----------------------------------------------------------------------------------------------
def exempted(tree: ast.AST) -> set[str]:
    """Ways to serve a page past the token of its form, or past the policies."""
    names = {node.id for node in ast.walk(tree) if isinstance(node, ast.Name)}
    names |= {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
    return names & {"csrf_exempt", "login_not_required", "has_perm", "cache_page", "is_superuser", "is_staff"}


# Where Django's flags are named at all; no page asks for them.
FLAGS_NAMED = {"accounts/models/person.py"}


# A mail program has no cookie; what it shows is the signed token of the link (RFC 8058).
POSTED_TO_BY_PROGRAMS = {"oneonone/web/notices/unsubscribe_views.py"}


def test_no_page_is_exempt_from_tokens_cached_or_open_to_a_flag() -> None:
    found = {str(file) for file, tree in sources(*PACKAGES) if exempted(tree)}
    assert found <= FLAGS_NAMED | POSTED_TO_BY_PROGRAMS
    assert exempted(ast.parse("@csrf_exempt\ndef act(request): ..."))
