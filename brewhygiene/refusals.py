"""How a rule says no: in the user's words, beside the field it concerns."""


class Refusal(Exception):
    """An action was refused, and nothing was written.

    ``message`` is shown to the person as it stands. ``field`` names the form field that the
    message belongs to, or is ``None`` when it concerns the whole form. ``code`` is stable, for
    callers and tests.
    """

    def __init__(self, message: str, *, field: str | None = None, code: str = "refused") -> None:
        super().__init__(message)
        self.message = message
        self.field = field
        self.code = code


class NotAllowed(Refusal):
    """The person's role does not include this action."""

    def __init__(self, message: str) -> None:
        super().__init__(message, code="not_allowed")
