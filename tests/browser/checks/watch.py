"""What a page may not do behind the test's back: log errors, break the policy, look outside."""

from urllib.parse import urlsplit

from playwright.sync_api import BrowserContext, ConsoleMessage, Page, Response, WebError

PAGES_AND_FRAGMENTS = {"document", "xhr", "fetch"}


class Watch:
    """Everything that went wrong in one browser context, in the order it happened."""

    def __init__(self, context: BrowserContext, *, home: str) -> None:
        self.troubles: list[str] = []
        self._home = urlsplit(home).netloc
        self._allowed: list[str] = []
        self._documents: dict[Page, Response] = {}
        context.on("console", self._on_console)
        context.on("weberror", self._on_web_error)
        context.on("response", self._on_response)
        context.on("request", lambda request: self._on_address(request.url))

    def allow(self, words: str) -> None:
        """Let pass what contains these words: for a test that provokes an error on purpose."""
        self._allowed.append(words)

    def document(self, page: Page) -> Response:
        """The response that the page now shown came from."""
        return self._documents[page]

    def check(self) -> None:
        """Fail, naming each trouble, unless there was none."""
        troubles = [t for t in self.troubles if not any(words in t for words in self._allowed)]
        assert not troubles, "The browser complained:\n  " + "\n  ".join(troubles)

    def _on_console(self, message: ConsoleMessage) -> None:
        # Without its worker a page works as it does: the tests keep it away from most.
        if message.text.startswith("Service Worker registration blocked"):
            return
        # A failed load is judged by its response below, where its address is known.
        if message.type in {"error", "warning"} and not message.text.startswith("Failed to load"):
            self.troubles.append(f"console {message.type}: {message.text}")

    def _on_web_error(self, error: WebError) -> None:
        self.troubles.append(f"script error: {error.error}")

    def _on_response(self, response: Response) -> None:
        request = response.request
        if request.is_navigation_request() and request.frame.parent_frame is None:
            self._documents[request.frame.page] = response
        # A page or fragment may refuse (403, 422): that is what tests look at. Nothing else may.
        refused = request.resource_type in PAGES_AND_FRAGMENTS and response.status < 500
        if response.status >= 400 and not refused:
            self.troubles.append(f"{response.status} for {response.url}")

    def _on_address(self, address: str) -> None:
        parts = urlsplit(address)
        if parts.scheme in {"http", "https"} and parts.netloc != self._home:
            self.troubles.append(f"fetched from outside the building: {address}")
