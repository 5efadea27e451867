"""How passwords and PINs are kept."""

from django.contrib.auth.hashers import Argon2PasswordHasher


class LeanArgon2Hasher(Argon2PasswordHasher):
    """Argon2id with 19 MiB, two passes and one lane for each check.

    The framework's 100 MiB, in every thread at the change of shift, would be more than a small
    server has. The figures are the least that OWASP's Password Storage Cheat Sheet recommends
    (from memory). A password kept with other figures is rehashed when it is next used.
    """

    time_cost = 2
    memory_cost = 19_456  # KiB
    parallelism = 1
