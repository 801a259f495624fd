"""Refusals of the services, shown at the field of the form they are about."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.core.exceptions import ValidationError
from django.forms import BaseForm

from accounts.refusals import Refusal

UNPROCESSABLE = 422


@contextmanager
def at(form: BaseForm) -> Iterator[None]:
    """Turn a refusal in the body into an error of ``form``, which keeps what was typed.

    The form is shown again, with status 422::

        if form.is_valid():
            with refused.at(form):
                topics.add(...)
                return redirect(...)
        return render(request, "...", {"form": form}, status=refused.status(form))

    A refusal about a field that the form does not have is about the whole form.
    """
    try:
        yield
    except Refusal as refusal:
        field = refusal.field if refusal.field in form.fields else None
        form.add_error(field, ValidationError(str(refusal), code=type(refusal).__name__))


def status(form: BaseForm) -> int:
    """The status of a page that shows this form: 422 when it was sent and refused, else 200."""
    return UNPROCESSABLE if form.is_bound and form.errors else 200
