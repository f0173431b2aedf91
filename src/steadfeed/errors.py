"""Errors, named after what the person does next.

SteadfeedError
 ├─ FixInput          correct a file, an option or a typed value (`where` says which)
 │   └─ OutOfRange    … because a number lies outside the limits that the message states (also a ValueError)
 ├─ InstallPart       an optional part of steadfeed is not installed
 ├─ TryAgain          something outside did not answer, was busy or full
 └─ NotAllowed        the store or the visit forbids the step as things stand

Not knowing is not an error: it is a value (`undecided` with reasons).
"""


class SteadfeedError(Exception):
    """Base of all errors whose message is one sentence for the person at the unit.

    code: stable word for scripts; message: what, where and what to do; where: file, line or option, if any.
    """

    code = "error"

    def __init__(self, message: str, *, code: str | None = None, where: str | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.where = where
        if code is not None:
            self.code = code


class FixInput(SteadfeedError):
    """Correct a file, an option or a typed value."""

    code = "fix input"


class OutOfRange(FixInput, ValueError):
    """A number lies outside stated limits."""

    code = "out of range"


class InstallPart(SteadfeedError):
    """An optional part is not installed."""

    code = "part missing"


class TryAgain(SteadfeedError):
    """Something outside did not answer, was busy or full."""

    code = "try again"


class NotAllowed(SteadfeedError):
    """The store or the visit forbids this step as things stand."""

    code = "not allowed"


def own_error(error: Exception) -> SteadfeedError:
    """Turn an error of steadfeed's own into one sentence that says what to do. The original stays as its cause."""
    known = SteadfeedError(
        f"steadfeed met an error of its own ({type(error).__name__}); please report it with the file and the output of "
        "the same command run with STEADFEED_TRACE=1",
        code="own error",
    )
    known.__cause__ = error
    return known
