"""Who signs beside the head brewer, where one signature is not enough."""

import dataclasses
from collections.abc import Sequence

from brewhygiene.ledger.recording import Actor
from brewhygiene.people.models import User
from brewhygiene.people.queries import people_who_may
from brewhygiene.people.signing_in.second_signature import (
    SIGNER,
    SIGNS_SECOND,
    check_second_signer,
)
from brewhygiene.refusals import Refusal
from brewhygiene.release.queries import Dossier

TOOK_PART = "You cleaned or sampled here. Over the action limit another head brewer has to sign."
ONE_SIGNER = "Nobody else here can sign second. Re-clean the vessel."


@dataclasses.dataclass(frozen=True)
class TwoSigners:
    """Who can sign second; ``why_not`` says why no two people can sign, or is ''."""

    seconds: Sequence[User] = ()
    why_not: str = ""


def over_action_signers(dossier: Dossier, user: User) -> TwoSigners:
    """Who can release over the action limit together with ``user``. 1 query.

    Neither of the two may have cleaned or sampled in this turnaround, whatever the brewery's
    rule on a self-release is.
    """
    if user.pk in dossier.took_part:
        return TwoSigners(why_not=TOOK_PART)
    seconds = list(people_who_may(*SIGNS_SECOND).exclude(pk__in={user.pk, *dossier.took_part}))
    return TwoSigners(seconds, "" if seconds else ONE_SIGNER)


def any_second(user: User) -> TwoSigners:
    """Who can sign second at all, with ``user``. 1 query."""
    seconds = list(people_who_may(*SIGNS_SECOND).exclude(pk=user.pk))
    return TwoSigners(seconds, "" if seconds else "Nobody else here can sign second.")


def second_over_action(*, by: Actor, dossier: Dossier, person: User | None) -> User:
    """The second signer of a release over the action limit, or a :class:`Refusal`."""
    if why_not := over_action_signers(dossier, by.person).why_not:
        raise Refusal(why_not, field="outcome", code="no_two_signers")
    person = check_second_signer(by=by, person=person)
    if person.pk in dossier.took_part:
        raise Refusal(
            f"{person} cleaned or sampled this vessel. Choose another person.",
            field=SIGNER,
            code="took_part",
        )
    return person
