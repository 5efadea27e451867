"""Actions on the brewery's tablets: enrol, rename, retire."""

from brewhygiene.ledger.changes import change
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.models import Tablet
from brewhygiene.people.permissions import require
from brewhygiene.people.signatures import confirm
from brewhygiene.refusals import Refusal


def _refuse_taken(name: str, *, tablet: Tablet | None = None) -> str:
    name = " ".join(name.split())
    if not name:
        raise Refusal("Enter a name for this tablet.", field="name", code="no_name")
    others = Tablet.objects.filter(name__iexact=name, retired_at__isnull=True)
    if tablet is not None:
        others = others.exclude(pk=tablet.pk)
    if others.exists():
        raise Refusal(
            f"Another tablet is called {name}. Choose another name.", field="name", code="taken"
        )
    return name


@action("enrol tablet")
def enrol_tablet(*, by: Actor, mark: str, name: str, password: str) -> Recorded[Tablet]:
    """Give the tablet that carries ``mark`` its name; from then on entries name it."""
    user = require(by, "edit_setup", "manage_people")
    confirm(by=by, password=password)
    name = _refuse_taken(name)
    if not mark:
        raise Refusal(
            "This tablet stores no cookies, so it cannot be recognised again. Allow cookies for "
            "this address, sign in by password, and enrol it again.",
            code="no_mark",
        )
    # A retired mark is never taken again: whoever has that tablet would be back with it.
    if (earlier := Tablet.objects.filter(mark=mark).first()) is not None:
        raise Refusal(
            f"This tablet is enrolled as {earlier}."
            if earlier.retired_at is None
            else f"This tablet was retired as {earlier}. Delete the cookies of this address on it, "
            "sign in by password, and enrol it again.",
            code="enrolled",
        )
    tablet = Tablet.objects.create(name=name, mark=mark, enrolled_by=user, enrolled_at=by.now)
    return Recorded(tablet, {"name": tablet.name})


@action("rename tablet")
def rename_tablet(*, by: Actor, tablet: Tablet, name: str, password: str) -> Recorded[Tablet]:
    """Another name for an enrolled tablet; earlier entries keep the one they were written with."""
    require(by, "edit_setup", "manage_people")
    confirm(by=by, password=password)
    tablet = Tablet.objects.select_for_update().get(pk=tablet.pk)
    if tablet.retired_at is not None:
        raise Refusal(f"{tablet} was retired.", code="retired")
    changed = change(tablet, name=_refuse_taken(name, tablet=tablet))
    tablet.save(update_fields=["name"])
    return Recorded(tablet, changed)


@action("retire tablet")
def retire_tablet(*, by: Actor, tablet: Tablet, password: str) -> Recorded[Tablet]:
    """Take a lost or replaced tablet out of use: no names and no PINs on it from now on."""
    require(by, "edit_setup", "manage_people")
    confirm(by=by, password=password)
    tablet = Tablet.objects.select_for_update().get(pk=tablet.pk)
    if tablet.retired_at is not None:
        raise Refusal(f"{tablet} was retired before.", code="retired")
    tablet.retired_at = by.now
    tablet.save(update_fields=["retired_at"])
    return Recorded(tablet, {"retired": by.now})
