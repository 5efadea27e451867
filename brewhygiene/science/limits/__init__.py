"""Limits from readings of clean vessels, by several methods, with how far each may be off."""
