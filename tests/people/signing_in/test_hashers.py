"""How passwords are kept."""

import threading

from django.contrib.auth.hashers import check_password, make_password

from brewhygiene import settings
from brewhygiene.people.signing_in.hashers import LeanArgon2Hasher


def test_password_is_kept_by_argon2id_within_a_small_servers_memory(settings) -> None:
    settings.PASSWORD_HASHERS = ["brewhygiene.people.signing_in.hashers.LeanArgon2Hasher"]
    kept = make_password("copper-kettle")
    assert kept.split("$")[:4] == ["argon2", "argon2id", "v=19", "m=19456,t=2,p=1"]
    assert check_password("copper-kettle", kept)
    assert not check_password("copper-kettles", kept)


def test_product_uses_it_first() -> None:
    named = f"{LeanArgon2Hasher.__module__}.{LeanArgon2Hasher.__name__}"
    assert settings.PASSWORD_HASHERS[0] == named


def test_everybody_gets_in_at_the_change_of_shift(settings) -> None:
    """More at once than there are checks at once: each waits for its turn."""
    settings.PASSWORD_HASHERS = ["brewhygiene.people.signing_in.hashers.LeanArgon2Hasher"]
    kept = make_password("copper-kettle")
    found: list[bool] = []
    threads = [
        threading.Thread(target=lambda: found.append(check_password("copper-kettle", kept)))
        for _ in range(12)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert found == [True] * 12
