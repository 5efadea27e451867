"""The story of the archive's tests, for pages whose disk or database fails."""

from tests.archive.conftest import empty_tables, migrated_story, places, story

__all__ = ["empty_tables", "migrated_story", "places", "story"]
