"""Data keys of people. Each is wrapped with a key-encryption key that is not in the database."""

from __future__ import annotations

from typing import Any, ClassVar
from uuid import UUID

from django.db import models

from oneonone.models.base import PRIVATE, Row, Unreadable
from oneonone.models.rows_of import RowsOf, SavedAsOwner


class KeyManager(models.Manager["PersonKey"]):
    """A manager that gives the keys of a named person only. Every other query raises Unreadable."""

    def get_queryset(self) -> models.QuerySet[PersonKey]:
        """Refused, so that no query can open one person's text for another."""
        raise Unreadable("PersonKey: keys are read with .of(person)")

    def of(self, person: Any) -> models.QuerySet[PersonKey]:
        """The keys of ``person``, newest first."""
        mine = RowsOf(self.model, using=self._db).read_by(person.pk)
        return mine.filter(person=person).order_by("-number")


class PersonKey(SavedAsOwner, Row):
    """One data key of one person. Its number is in the header of every blob that it sealed.

    A retired key only opens older blobs. Deleting all keys of a person erases their private text: nobody can
    open it afterwards.
    """

    privacy: ClassVar[str] = PRIVATE

    person = models.ForeignKey("accounts.Person", on_delete=models.PROTECT, related_name="+")
    number = models.PositiveIntegerField()
    wrapped = models.BinaryField()
    created_at = models.DateTimeField()
    retired_at = models.DateTimeField(null=True, blank=True)

    objects = KeyManager()

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["person", "number"], name="person_key_number_unique"),
            models.UniqueConstraint(
                fields=["person"], condition=models.Q(retired_at__isnull=True), name="person_key_one_in_use"
            ),
            models.CheckConstraint(condition=models.Q(number__gte=1), name="person_key_number_from_one"),
        ]

    @property
    def reader_id(self) -> UUID:
        """The person whose key it is."""
        return self.person_id
