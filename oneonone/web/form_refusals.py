"""Refusals of the services, shown at the field of the form they are about."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.forms import BaseForm
from django.http import HttpRequest

from accounts.refusals import Refusal

UNPROCESSABLE = 422


@contextmanager
def at(*forms: BaseForm) -> Iterator[None]:
    """Turn a refusal raised in the body into an error at its field. The form keeps what was typed.

    The form is shown again, with status 422::

        if form.is_valid():
            with refused.at(form):
                topics.add(...)
                return redirect(...)
        return render(request, "...", {"form": form}, status=refused.status(form))

    If no form has the field, the error is a non-field error of the first form.
    """
    try:
        yield
    except Refusal as refusal:
        form = next((form for form in forms if refusal.field in form.fields), forms[0])
        field = refusal.field if refusal.field in form.fields else None
        form.add_error(field, ValidationError(str(refusal), code=type(refusal).__name__))


@contextmanager
def told(request: HttpRequest) -> Iterator[None]:
    """Turn a refusal raised in the body into a message on the next page, for acts without a form."""
    try:
        yield
    except Refusal as refusal:
        messages.error(request, str(refusal))


def status(*forms: BaseForm) -> int:
    """The status of a page that shows these forms: 422 if one was submitted and refused, else 200."""
    return UNPROCESSABLE if any(form.is_bound and form.errors for form in forms) else 200
