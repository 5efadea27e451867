"""How passwords are kept."""

from django.contrib.auth.hashers import check_password, make_password

from brewhygiene import settings
from brewhygiene.people.hashers import LeanArgon2Hasher


def test_password_is_kept_by_argon2id_within_a_small_servers_memory(settings) -> None:
    settings.PASSWORD_HASHERS = ["brewhygiene.people.hashers.LeanArgon2Hasher"]
    kept = make_password("copper-kettle")
    assert kept.split("$")[:4] == ["argon2", "argon2id", "v=19", "m=19456,t=2,p=1"]
    assert check_password("copper-kettle", kept)
    assert not check_password("copper-kettles", kept)


def test_product_uses_it_first() -> None:
    named = f"{LeanArgon2Hasher.__module__}.{LeanArgon2Hasher.__name__}"
    assert settings.PASSWORD_HASHERS[0] == named
