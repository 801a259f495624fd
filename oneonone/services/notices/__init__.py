"""Writes: notices, mails, proposals that wait for an answer, and the queue of what is owed."""
