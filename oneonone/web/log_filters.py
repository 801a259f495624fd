"""What logs may not hold: a token in the path of a link can still be used by whoever reads it there."""

from __future__ import annotations

import logging
import re

# Also where the path stands in a query, which may write the slash as %2F.
TOKEN_IN_PATH = re.compile(
    r"(/|%2F)(invitations|setup|new-password|unsubscribe)(/|%2F)[^/\s%&]+", re.IGNORECASE
)
SHOWN = r"\1\2\3***"


class HidesTokens(logging.Filter):
    """Puts stars in place of the tokens of invitations and of setting up, in every record that passes."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Never drops a record."""
        record.msg = _hidden(record.msg)
        if isinstance(record.args, tuple):
            record.args = tuple(_hidden(value) for value in record.args)
        elif record.args:
            record.args = {name: _hidden(value) for name, value in record.args.items()}
        return True


def _hidden(value: object) -> object:
    return TOKEN_IN_PATH.sub(SHOWN, value) if isinstance(value, str) else value
