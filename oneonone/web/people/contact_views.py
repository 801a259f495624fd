"""Who to turn to, and the administrator's form for it."""

from __future__ import annotations

from django.contrib import messages
from django.forms import BaseFormSet
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from oneonone.models import Organisation
from oneonone.selectors.people import organisation as selector
from oneonone.services.people import contacts
from oneonone.services.refusals import Stale
from oneonone.web import form_refusals, stale_edits
from oneonone.web.people.contact_forms import ContactForm, ContactRows, ContactsForm, entries, rows_of
from oneonone.web.policy import ADMINISTRATOR, SIGNED_IN, PersonRequest, view


@view(policy=SIGNED_IN)
def show(request: PersonRequest) -> HttpResponse:
    """The contacts, or that they are missing, and the cautions that belong to them."""
    return render(request, "people/contacts.html", {"page": selector.contacts_page(request.person)})


@view(policy=ADMINISTRATOR, methods=("GET", "POST"))
def edit(request: PersonRequest) -> HttpResponse:
    """Fill in the contacts."""
    organisation = selector.the_organisation()
    if organisation is None:
        raise Http404
    if request.method != "POST":
        page = selector.contacts_page(request.person)
        context = {"form": ContactsForm.of(organisation), "rows": rows_of(page.contacts), "section": "people"}
        return render(request, "people/contacts_edit.html", context)
    return _keep(request, organisation)


def _keep(request: PersonRequest, organisation: Organisation) -> HttpResponse:
    form, rows = ContactsForm(request.POST), ContactRows(request.POST, prefix="contacts")
    if form.is_valid() and rows.is_valid():
        with form_refusals.at(form):
            try:
                contacts.change(
                    organisation=organisation,
                    entries=entries(rows),
                    note=form.cleaned_data["note"],
                    version=form.cleaned_data["version"],
                    actor=request.person,
                    now=request.now,
                )
            except Stale as late:
                return _late(request, late, rows)
            messages.success(request, _("The contacts are saved."))
            return redirect("contacts")
    context = {"form": form, "rows": rows, "section": "people"}
    return render(request, "people/contacts_edit.html", context, status=form_refusals.UNPROCESSABLE)


def _late(request: PersonRequest, late: Stale, rows: BaseFormSet[ContactForm]) -> HttpResponse:
    """Show the saved contacts and the form as typed. Sent again, the form replaces the saved contacts."""
    context = {
        "form": ContactsForm(stale_edits.sent_again(request, late)),
        "rows": rows,
        "now_there": selector.contacts_page(request.person),
        "section": "people",
    }
    return render(request, "people/contacts_edit.html", context, status=stale_edits.STATUS)
