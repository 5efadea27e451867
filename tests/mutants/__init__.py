"""Mutants: one small change at a time in the rules, each of which a test has to notice.

``python -m tests.mutants`` (``make mutants``) makes them, runs for each the tests that touch its
line, and says how many were noticed ("killed"). What survives has to stand in
``equivalent.toml`` with the reason why no test could tell it from the rule.
"""
