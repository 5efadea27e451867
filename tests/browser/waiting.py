"""Waiting for what is so, never for a time."""

from playwright.sync_api import Page

# Board, wall and queue ask so often for what is new.
ASKS_EVERY_MS = 30_000
# Looked at so often: half a minute of the page's own time at most, then it fails.
LOOKS, EVERY_MS = 600, 50


def wait_until(page: Page, expression: str) -> None:
    """Until a script's expression is true in the page; fails, naming it, where it stays false."""
    came: bool = page.evaluate(
        f"""async () => {{
            for (let look = 0; look < {LOOKS}; look++) {{
                if ({expression}) return true;
                await new Promise((done) => setTimeout(done, {EVERY_MS}));
            }}
            return false;
        }}"""
    )
    assert came, f"It stayed false: {expression}"


def let_it_say_all(page: Page) -> None:
    """Until what the page has said so far has been heard: a word after it is."""
    last = "nothing more"
    with page.expect_console_message(lambda message: message.text == last):
        page.evaluate(f"setTimeout(() => setTimeout(() => console.log('{last}')))")


def let_it_ask(page: Page) -> None:
    """The page's own clock jumps to where it asks the server for what is new."""
    page.clock.fast_forward(ASKS_EVERY_MS)
