"""The security checklist, line by line: what holds, which test shows it, and what does not hold.

The numbers are those of the requirements of OWASP's Application Security Verification Standard 5.0, levels
one and two; what they ask is said in short words of our own. A line that is shown names tests, a line that is
not held or has no meaning here says why. A test that is renamed or gone makes its line fail
(``test_checklist.py``).
"""

from __future__ import annotations

from tests.security.checklist_data import OF_DATA
from tests.security.checklist_requests import OF_REQUESTS

LINES = (*OF_REQUESTS, *OF_DATA)
