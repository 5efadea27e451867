"""Counting what grew: colonies, tubes, and how far a count may be off."""
