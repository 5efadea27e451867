"""The invented people of the invented brewery, and how to sign in as each."""

from brewhygiene.people.roles import CELLAR, HEAD_BREWER, OWNER

# (username, password, role): as short as a sign-in that opens nothing of anybody's may be.
DEMO_SIGN_INS: list[tuple[str, str, str]] = [
    ("mara", "kestrel-mara", HEAD_BREWER),
    ("jonas", "kestrel-jonas", CELLAR),
    ("priya", "kestrel-priya", CELLAR),
    ("tomas", "kestrel-tomas", OWNER),
]
# By username: full name and initials, all invented.
DEMO_NAMES: dict[str, tuple[str, str]] = {
    "mara": ("Mara Oduya", "MO"),
    "jonas": ("Jonas Feld", "JF"),
    "priya": ("Priya Lindqvist", "PL"),
    "tomas": ("Tomas Brandt", "TB"),
}
