"""The authority and its certificates, made with a given clock: nothing here is read or kept.

The authority is constrained (RFC 5280, 4.2.1.10): a device that trusts it trusts it for this
building's names and addresses, so that whoever steals its key cannot pass for a bank or a mail
server. Permitted are the names that the machine had when the authority was made, and all of the
private networks rather than one address: a router gives a server another address now and then,
and each time every tablet would have to trust a new authority. What that costs: the thief could
pass for another machine inside a building whose tablets trust this authority, such as its router.
"""

import ipaddress
from datetime import datetime, timedelta

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from brewhygiene.certificates.names import Names, names_of

# RFC 1918, this machine itself (RFC 1122), and the private addresses of IPv6 (RFC 4193).
NETWORKS = tuple(
    ipaddress.ip_network(network)
    for network in (
        "10.0.0.0/8",
        "172.16.0.0/12",
        "192.168.0.0/16",
        "127.0.0.0/8",
        "fd00::/8",
        "::1/128",
    )
)
AUTHORITY_LIFE = timedelta(days=3652)
# Apple refuses more than 825 days (its support page 103769), and Chrome on Android was reported to
# refuse more than 397 for an added authority too. Both ends count, so a second less.
LEAF_LIFE = timedelta(days=397) - timedelta(seconds=1)
# For tablets whose clock is behind.
BEFORE = timedelta(days=1)

Key = ec.EllipticCurvePrivateKey
Network = ipaddress.IPv4Network | ipaddress.IPv6Network


def _called(words: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, words[:64])])


def _usage(*, signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs_certificates,
        key_cert_sign=signs_certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        crl_sign=False,
        encipher_only=False,
        decipher_only=False,
    )


def _permitted(names: Names) -> list[x509.GeneralName]:
    beyond = [
        ipaddress.ip_network(address)
        for address in names.addresses
        if not _within(address, NETWORKS)
    ]
    return [
        *(x509.DNSName(host) for host in names.hosts),
        *(x509.IPAddress(network) for network in (*NETWORKS, *beyond)),
    ]


def _within(address: str, networks: "tuple[Network, ...]") -> bool:
    at = ipaddress.ip_address(address)
    return any(at.version == network.version and at in network for network in networks)


def make_authority(names: Names, *, now: datetime) -> tuple[Key, x509.Certificate]:
    """A new key and the authority's own certificate, for ten years."""
    key = ec.generate_private_key(ec.SECP256R1())
    subject = _called(f"brewhygiene {names.hosts[0][:30]}, made {now:%Y-%m-%d %H:%M:%S}")
    identifier = x509.SubjectKeyIdentifier.from_public_key(key.public_key())
    made = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - BEFORE)
        .not_valid_after(now - BEFORE + AUTHORITY_LIFE)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs_certificates=True), critical=True)
        .add_extension(x509.NameConstraints(_permitted(names), None), critical=True)
        .add_extension(identifier, critical=False)
        .sign(key, hashes.SHA256())
    )
    return key, made


def make_leaf(
    authority_key: Key, authority: x509.Certificate, names: Names, *, now: datetime
) -> tuple[Key, x509.Certificate]:
    """A new key and a certificate for these names, no longer than the authority's own."""
    key = ec.generate_private_key(ec.SECP256R1())
    begins = max(now - BEFORE, authority.not_valid_before_utc)
    alternative: list[x509.GeneralName] = [
        *(x509.DNSName(host) for host in names.hosts),
        # As addresses: browsers do not look for one among the names.
        *(x509.IPAddress(ipaddress.ip_address(address)) for address in names.addresses),
    ]
    identifier = authority.extensions.get_extension_for_class(x509.SubjectKeyIdentifier).value
    made = (
        x509.CertificateBuilder()
        .subject_name(_called(names.all[0]))
        .issuer_name(authority.subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(begins)
        .not_valid_after(min(begins + LEAF_LIFE, authority.not_valid_after_utc))
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName(alternative), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_subject_key_identifier(identifier),
            critical=False,
        )
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(authority_key, hashes.SHA256())
    )
    return key, made


def pem_of(key: Key, certificate: x509.Certificate) -> bytes:
    """A key and its certificate, as one file holds both."""
    private = key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    return private + certificate.public_bytes(Encoding.PEM)


# Reading what was made


def covered_by(certificate: x509.Certificate) -> Names:
    """The names and addresses that a certificate is for; none where it names none."""
    try:
        found = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except x509.ExtensionNotFound:
        return Names((), ())
    addresses = found.get_values_for_type(x509.IPAddress)
    return names_of([*found.get_values_for_type(x509.DNSName), *map(str, addresses)])


def permitted_of(authority: x509.Certificate, names: Names) -> Names:
    """Those of these names that the authority may certify."""
    constraints = authority.extensions.get_extension_for_class(x509.NameConstraints).value
    permitted = constraints.permitted_subtrees or []
    hosts = [one.value for one in permitted if isinstance(one, x509.DNSName)]
    networks = tuple(one.value for one in permitted if isinstance(one, x509.IPAddress))
    return Names(
        tuple(
            host
            for host in names.hosts
            if any(host == root or host.endswith(f".{root}") for root in hosts)
        ),
        tuple(address for address in names.addresses if _within(address, networks)),  # type: ignore[arg-type]
    )


def fingerprint(certificate: x509.Certificate) -> str:
    """SHA-256 in pairs, as devices show it."""
    return certificate.fingerprint(hashes.SHA256()).hex(":").upper()
