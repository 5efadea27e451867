"""Readings of several points or vessels beside each other: whether and how far they differ."""
