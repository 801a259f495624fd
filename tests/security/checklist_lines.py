"""What a line of the checklist is, and the files of tests that its lines name most."""

from __future__ import annotations

from dataclasses import dataclass

HELD, NOT_HELD, NOT_APPLICABLE = "held", "not held", "not applicable"


@dataclass(frozen=True)
class Line:
    """One requirement or a few that go together. ``tests`` are in ``tests/``, as ``file::function``."""

    numbers: str
    asks: str
    standing: str
    tests: tuple[str, ...] = ()
    why: str = ""

    def __str__(self) -> str:
        return f"{self.numbers} {self.asks}"


def held(numbers: str, asks: str, *tests: str) -> Line:
    return Line(numbers, asks, HELD, tests)


def not_held(numbers: str, asks: str, why: str, *tests: str) -> Line:
    """``tests`` may show the part that holds."""
    return Line(numbers, asks, NOT_HELD, tests, why)


def no_meaning(numbers: str, asks: str, why: str) -> Line:
    return Line(numbers, asks, NOT_APPLICABLE, (), why)


STATIC, OUT, HEADERS = "security/test_static_rules.py", "security/test_ways_out.py", "web/test_headers.py"
BAD, MATRIX, COMPLETE = (
    "security/test_bad_input.py",
    "security/test_matrix.py",
    "security/test_completeness.py",
)
CANARIES, CROSSINGS, GUARDS = (
    "security/test_canaries.py",
    "security/test_crossings.py",
    "security/test_guards.py",
)
LIMITS = "web/account/test_sign_in_limits.py"
SIGNING, PASSWORD = "web/account/test_signing_in.py", "web/account/test_password_and_address.py"
FACTORS, REQUIRED = "web/account/test_second_factors.py", "web/account/test_second_factor_required.py"
SESSIONS, ACCOUNTS, INVITED = (
    "web/account/test_sessions_page.py",
    "web/people/test_account.py",
    "accounts/services/test_invitations.py",
)
OIDC, MARKUP, ENVIRONMENT = "serving/test_oidc.py", "web/test_markup.py", "test_environment.py"
