"""The rows of the domain, their named constraints, and who may see them."""

from .agenda import Importance, MustDiscuss, Order, Placement, Proposal, Topic, TopicAfter
from .base import Row, Sealed, Unreadable
from .busytimes import BusyTimes, BusyWeek
from .clocks import ZoneRules
from .followthrough import Carry, Commitment, CommitmentPlan, Revision
from .history import KindFactor
from .keys import PersonKey
from .lines import Interval, Line, Pause
from .meetings import HeldClaim, Meeting, Move, RecordAddition, RecordLine, Seen, Snapshot
from .organisation import ClosingDay, Contact, LegalHold, Organisation
from .owed import AuditEvent, ClientKey, Deferral, Drain, JobHealth, Mail, MailWishes, Notice, Tick
from .private import LogbookEntry, MarginNote, Preparation
from .reasons import WITHOUT_TEXT, ReasonCode
from .sides import Side

__all__ = [
    "WITHOUT_TEXT",
    "AuditEvent",
    "BusyTimes",
    "BusyWeek",
    "Carry",
    "ClientKey",
    "ClosingDay",
    "Commitment",
    "CommitmentPlan",
    "Contact",
    "Deferral",
    "Drain",
    "HeldClaim",
    "Importance",
    "Interval",
    "JobHealth",
    "KindFactor",
    "LegalHold",
    "Line",
    "LogbookEntry",
    "Mail",
    "MailWishes",
    "MarginNote",
    "Meeting",
    "Move",
    "MustDiscuss",
    "Notice",
    "Order",
    "Organisation",
    "Pause",
    "PersonKey",
    "Placement",
    "Preparation",
    "Proposal",
    "ReasonCode",
    "RecordAddition",
    "RecordLine",
    "Revision",
    "Row",
    "Sealed",
    "Seen",
    "Side",
    "Snapshot",
    "Tick",
    "Topic",
    "TopicAfter",
    "Unreadable",
    "ZoneRules",
]
