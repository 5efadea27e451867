"""The ledger's text, tree and signature against the standards that they follow."""

import json
from hashlib import sha256

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from brewhygiene.ledger.hashing.canonical import NotCanonical, canonical, digest_of, number_text
from brewhygiene.ledger.hashing.merkle import Levels, Tree, root_from, root_of
from brewhygiene.ledger.heads.key import is_signed

# RFC 6962's own reference leaves, as every implementation of Certificate Transparency uses them.
LEAVES = [
    bytes.fromhex(leaf)
    for leaf in (
        "",
        "00",
        "10",
        "2021",
        "3031",
        "40414243",
        "5051525354555657",
        "606162636465666768696a6b6c6d6e6f",
    )
]


@pytest.mark.parametrize(
    "value, text",
    [
        # RFC 8785, 3.2.2 and Appendix B.
        (333333333.33333329, "333333333.3333333"),
        (1e30, "1e+30"),
        (4.50, "4.5"),
        (2e-3, "0.002"),
        (1e-27, "1e-27"),
        (56.0, "56"),
        (-0.0, "0"),
        (1e21, "1e+21"),
        (999999999999999900000, "999999999999999900000"),
        (1e-6, "0.000001"),
        (9.999999999999997e-7, "9.999999999999997e-7"),
        (5e-324, "5e-324"),
        (-5e-324, "-5e-324"),
        (1.7976931348623157e308, "1.7976931348623157e+308"),
        (9007199254740992, "9007199254740992"),
        (295147905179352830000, "295147905179352830000"),
    ],
)
def test_number_is_written_as_rfc_8785_writes_it(value: float, text: str) -> None:
    assert number_text(value) == text


def test_array_and_object_are_written_as_rfc_8785_writes_them() -> None:
    text = canonical([56, {"d": True, "10": None, "1": []}])
    assert text == '[56,{"1":[],"10":null,"d":true}]'
    assert digest_of(text)[:8] + digest_of(text)[-4:] == "099601b1ac42"


def test_names_are_sorted_by_utf_16_units_and_nothing_is_normalised() -> None:
    """RFC 8785, 3.2.3: an emoji's first unit, D83D, comes before FB33."""
    assert canonical({"\ufb33": 1, "\U0001f602": 2}) == '{"\U0001f602":2,"\ufb33":1}'
    assert canonical("A\u030a") == '"A\u030a"'


def test_string_is_escaped_as_rfc_8785_escapes_it() -> None:
    """RFC 8785, 3.2.2.2: the short forms where there are some, else four lower-case digits."""
    assert canonical('\u20ac$\x0f\nA\'B"\\\\"/') == '"\u20ac$\\u000f\\nA\'B\\"\\\\\\\\\\"/"'


@pytest.mark.parametrize("value", [float("nan"), float("inf"), object(), b"1"])
def test_what_json_has_no_form_for_is_refused(value: object) -> None:
    with pytest.raises(NotCanonical):
        canonical(value)


def test_canonical_text_reads_back_as_the_same_value() -> None:
    value = {"a": [1, 2.5, None, True, "\u00e9\u2028"], "b": {"": -3e-9}}
    assert json.loads(canonical(value)) == value


def test_root_of_eight_leaves_is_that_of_rfc_6962() -> None:
    assert root_of([]).hex()[:8] == "e3b0c442"
    assert root_of(LEAVES[:1]).hex()[:8] == "6e340b9c"
    assert (
        root_of(LEAVES).hex() == "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328"
    )


def defined_root(leaves: list[bytes]) -> bytes:
    """RFC 6962, 2.1, word for word: split at the largest power of two below n."""
    if not leaves:
        return sha256(b"").digest()
    if len(leaves) == 1:
        return sha256(b"\x00" + leaves[0]).digest()
    k = 1 << ((len(leaves) - 1).bit_length() - 1)
    return sha256(b"\x01" + defined_root(leaves[:k]) + defined_root(leaves[k:])).digest()


def test_tree_of_every_size_is_the_one_that_rfc_6962_defines() -> None:
    leaves = [bytes([n]) for n in range(70)]
    tree = Tree()
    for size, leaf in enumerate(leaves):
        assert tree.root() == defined_root(leaves[:size])
        assert Tree(size, tree.peaks).root() == tree.root()
        tree.add(leaf)


def test_every_path_leads_to_the_root_and_no_other_leaf_does() -> None:
    """RFC 6962, 2.1.1."""
    leaves = [bytes([n]) for n in range(20)]
    for size in range(1, 21):
        levels, root = Levels(leaves[:size]), defined_root(leaves[:size])
        for index in range(size):
            path = levels.path_of(index)
            assert root_from(leaves[index], index, size, path) == root
            assert root_from(b"another", index, size, path) != root


@pytest.mark.parametrize("index, size, nodes", [(3, 3, 2), (-1, 3, 2), (0, 3, 1), (0, 3, 3)])
def test_path_that_does_not_fit_is_refused(index: int, size: int, nodes: int) -> None:
    with pytest.raises(ValueError):
        root_from(b"", index, size, [b"\x00" * 32] * nodes)


@pytest.mark.parametrize(
    "secret, public, message, signature",
    [
        # RFC 8032, 7.1, tests 1 to 3.
        (
            "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
            "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
            "",
            (
                "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e3970"
                "1cf9b46bd25bf5f0595bbe24655141438e7a100b"
            ),
        ),
        (
            "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
            "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
            "72",
            (
                "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613"
                "d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"
            ),
        ),
    ],
)
def test_signature_is_that_of_rfc_8032(
    secret: str, public: str, message: str, signature: str
) -> None:
    key = Ed25519PrivateKey.from_private_bytes(bytes.fromhex(secret))
    assert key.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw).hex() == public
    assert key.sign(bytes.fromhex(message)).hex() == signature
    text = bytes.fromhex(message).decode()
    assert is_signed(text, signature=signature, public=public)
    assert not is_signed(text + " ", signature=signature, public=public)
    assert not is_signed(text, signature=signature[:-2] + "01", public=public)
