"""Who walks: the three roles, and somebody without any."""

from brewhygiene.people.roles import CELLAR, HEAD_BREWER, OWNER

ROLES: dict[str, tuple[str, ...]] = {
    "no role": (),
    "cellar": (CELLAR,),
    "head brewer": (HEAD_BREWER,),
    "owner": (OWNER,),
}
