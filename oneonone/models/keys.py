"""The data keys of people, each wrapped by a key-encryption key that is not in the database."""

from __future__ import annotations

from typing import Any, ClassVar
from uuid import UUID

from django.db import models

from oneonone.models.base import PRIVATE, Row, Unreadable
from oneonone.models.rows_of import RowsOf, SavedAsOwner


class KeyManager(models.Manager["PersonKey"]):
    """The only way to keys: name the person whose keys they are, or get nothing but an error."""

    def get_queryset(self) -> models.QuerySet[PersonKey]:
        """Refused: a query over the keys of everybody is how one person's words get opened for another."""
        raise Unreadable("PersonKey: keys are read with .of(person)")

    def of(self, person: Any) -> models.QuerySet[PersonKey]:
        """The keys of ``person``, newest first."""
        mine = RowsOf(self.model, using=self._db).read_by(person.pk)
        return mine.filter(person=person).order_by("-number")


class PersonKey(SavedAsOwner, Row):
    """One data key of one person. Its number is in the head of every blob that it sealed.

    A retired key seals nothing new and still opens what it sealed. Deleting all keys of a person is erasing:
    what they sealed can then be opened by nobody.
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
