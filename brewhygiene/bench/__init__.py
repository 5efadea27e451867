"""Calculators for the brewer: the sums of the pure layer with a form and their working shown."""
