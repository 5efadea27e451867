"""A brewery's cleaning programme: clean, sample, decide, keep the evidence."""

# As in pyproject.toml; a test compares them.
__version__ = "0.1.0"
