"""A person: somebody who can sign in and is the author of what they wrote."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Collection
from typing import Any, ClassVar, Literal

from django.contrib.auth.models import AbstractBaseUser, BaseUserManager, PermissionsMixin
from django.core.validators import MinLengthValidator, RegexValidator
from django.db import models
from django.db.models import F, Q, Value
from django.db.models.functions import Length, Lower, Replace, Trim
from django.db.models.lookups import Exact, GreaterThan
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from accounts import addresses

NAME_LENGTH = 120
MONDAY_TO_FRIDAY = "1111100"


class PersonQuerySet(models.QuerySet["Person"]):
    """Reads of people."""

    def visible_to(self, person: Person) -> PersonQuerySet:
        """Those whose account ``person`` may see: their own, or everybody's for an administrator.

        People who share a line with ``person`` are read through the line, not through this method.
        """
        if person.is_administrator and person.is_active:
            return self.all()
        return self.filter(pk=person.pk)

    def with_address(self, address: str) -> PersonQuerySet:
        """Those who sign in with this address, in whatever case it was typed: one or none."""
        return self.filter(email=addresses.normalise(address))


class PersonManager(BaseUserManager.from_queryset(PersonQuerySet)):  # type: ignore[misc]  # built at run time
    """Creates people. The caller gives the time, because models do not read the clock."""

    def create_user(
        self, *, email: str, now: dt.datetime, password: str | None = None, **fields: Any
    ) -> Person:
        """Store a person after full validation; without a password they cannot sign in with one."""
        person: Person = self.model(email=addresses.normalise(email), date_joined=now, **fields)
        if password is None:
            person.set_unusable_password()
        else:
            person.set_password(password)
        person.full_clean()
        person.save(force_insert=True, using=self._db)
        return person

    def get_by_natural_key(self, username: str | None) -> Person:
        """The person who signs in with this address, in whatever case it was typed."""
        person: Person = self.get(email=addresses.normalise(username or ""))
        return person


class Person(AbstractBaseUser, PermissionsMixin):
    """Somebody with an account.

    Rows are blanked, never deleted, so that authors of shared text keep their id.
    """

    privacy: ClassVar[Literal["shared", "private", "system"]] = "shared"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    email = models.EmailField(_("e-mail address"), max_length=254)
    name = models.CharField(_("name"), max_length=NAME_LENGTH, blank=True)
    zone = models.CharField(_("time zone"), max_length=64, default="Europe/London")
    working_week = models.CharField(
        _("working week"),
        max_length=7,
        default=MONDAY_TO_FRIDAY,
        validators=[MinLengthValidator(7), RegexValidator(r"\A[01]*1[01]*\Z")],
        help_text=_("Seven digits, Monday first: 1 for a day of work, 0 for a day off."),
    )
    country = models.CharField(_("country of the public holidays"), max_length=2, blank=True)
    subdivision = models.CharField(_("part of the country"), max_length=20, blank=True)
    locale = models.CharField(_("language"), max_length=12, default="en")
    single_keys = models.BooleanField(_("single-key shortcuts"), default=True)
    quiet_from = models.TimeField(_("quiet from"), default=dt.time(20, 0))
    quiet_to = models.TimeField(_("quiet to"), default=dt.time(7, 0))
    wants_mail = models.BooleanField(_("notices by mail"), default=True)
    is_administrator = models.BooleanField(_("administrator"), default=False)
    is_staff = models.BooleanField(_("staff"), default=False)
    is_demo = models.BooleanField(_("demo account"), default=False, editable=False)
    is_active = models.BooleanField(_("may sign in"), default=True)
    date_joined = models.DateTimeField(_("joined"))
    erased_at = models.DateTimeField(_("erased"), null=True, blank=True)

    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = []

    objects: ClassVar[PersonManager] = PersonManager()

    class Meta:
        verbose_name = _("person")
        verbose_name_plural = _("people")
        ordering = ["name", "id"]
        constraints = [
            # Addresses are stored normalised, so a plain unique index makes them unique without regard to
            # case.
            models.CheckConstraint(
                condition=Exact(Lower(Trim("email")), F("email")), name="person_email_normal"
            ),
            models.UniqueConstraint(
                fields=["email"],
                name="person_email_unique",
                violation_error_message=_("There is already an account with this e-mail address."),
            ),
            models.CheckConstraint(
                condition=GreaterThan(Length(Trim("name")), Value(0)) | Q(erased_at__isnull=False),
                name="person_name_given",
                violation_error_message=_("A person needs a name."),
            ),
            models.CheckConstraint(
                # Uses plain SQL functions. SQLite has no built-in REGEXP, so with a pattern only Django could
                # write the table.
                condition=Exact(Length("working_week"), Value(7))
                & Exact(
                    Replace(Replace("working_week", Value("0"), Value("")), Value("1"), Value("")), Value("")
                )
                & Q(working_week__contains="1"),
                name="person_working_week_valid",
                violation_error_message=_("A working week has seven days and at least one day of work."),
            ),
        ]

    def __str__(self) -> str:
        """Class and id only: names and addresses stay out of logs and error reports."""
        return f"Person {self.pk}"

    def __repr__(self) -> str:
        """As ``__str__``."""
        return f"<Person {self.pk}>"

    def clean_fields(self, exclude: Collection[str] | None = None) -> None:
        """Normalise the address before the fields are validated."""
        self.email = addresses.normalise(self.email)
        super().clean_fields(exclude=exclude)

    @property
    def called(self) -> str:
        """Return the name to show, or a phrase for an erased person."""
        return self.name or gettext("erased person")

    def works_on(self, day: dt.date) -> bool:
        """Whether ``day`` is a day of this person's working week, holidays and days away left out."""
        return self.working_week[day.weekday()] == "1"
