"""The invented brewery. A package, so that what it shares ends with its last test."""
