"""How passwords and PINs are kept."""

import threading
from typing import Any

from django.contrib.auth.hashers import Argon2PasswordHasher

# As many checks at once as a small server has cores: more would only take more memory.
_AT_ONCE = threading.BoundedSemaphore(2)


class LeanArgon2Hasher(Argon2PasswordHasher):
    """Argon2id with 19 MiB, two passes and one lane for each check.

    The framework's 100 MiB, in every thread at the change of shift, would be more than a small
    server has. The figures are the least that OWASP's Password Storage Cheat Sheet recommends
    (from memory). A password kept with other figures is rehashed when it is next used.
    """

    time_cost = 2
    memory_cost = 19_456  # KiB
    parallelism = 1

    def encode(self, *args: Any, **kwargs: Any) -> str:
        with _AT_ONCE:
            encoded: str = super().encode(*args, **kwargs)
            return encoded

    def verify(self, *args: Any, **kwargs: Any) -> bool:
        with _AT_ONCE:
            found: bool = super().verify(*args, **kwargs)
            return found
