"""Simulations whose results are kept as tables."""
