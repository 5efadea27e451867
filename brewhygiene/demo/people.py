"""The invented people of the invented brewery, and how to sign in as each."""

from brewhygiene.people.roles import CELLAR, HEAD_BREWER, OWNER

# (username, password, role): as short as a sign-in that opens nothing of anybody's may be.
DEMO_SIGN_INS: list[tuple[str, str, str]] = [
    ("mara", "copper-kettle", HEAD_BREWER),
    ("jonas", "rubber-boots", CELLAR),
    ("priya", "sample-valve", CELLAR),
    ("tomas", "open-ledger", OWNER),
]
# By username: full name and initials, all invented.
DEMO_NAMES: dict[str, tuple[str, str]] = {
    "mara": ("Mara Oduya", "MO"),
    "jonas": ("Jonas Feld", "JF"),
    "priya": ("Priya Lindqvist", "PL"),
    "tomas": ("Tomas Brandt", "TB"),
}
# By username: for changing hands on a shared tablet.
DEMO_PINS: dict[str, str] = {"mara": "4826", "jonas": "5093", "priya": "7362"}
DEMO_PASSWORDS: dict[str, str] = {row[0]: row[1] for row in DEMO_SIGN_INS}
