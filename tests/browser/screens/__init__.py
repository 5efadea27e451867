"""Pictures of every kind of screen, to be looked at: ``python -m tests.browser.screens``."""
