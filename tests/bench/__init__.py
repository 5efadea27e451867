"""How fast it is, on a seeded brewery of any size: ``python -m tests.bench``."""
