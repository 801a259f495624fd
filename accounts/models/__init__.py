"""The rows of the accounts application."""

from accounts.models.day_away import DayAway
from accounts.models.invitation import Invitation
from accounts.models.person import Person
from accounts.models.session import Session

__all__ = ["DayAway", "Invitation", "Person", "Session"]
