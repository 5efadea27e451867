"""The styles of every page, in their order; a room's own come after them."""

STYLES = (
    "tokens",
    "base",
    "parts/masthead",
    "parts/buttons",
    "parts/page",
    "parts/choosing",
    "parts/fields",
    "parts/tables",
    "parts/notices",
    "parts/status",
    "parts/outbox",
    "parts/scanning",
    "parts/printing",
)
