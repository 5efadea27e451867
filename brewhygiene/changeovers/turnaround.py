"""What a turnaround's changeover has to take away, and what shows that it did."""

import dataclasses
from collections.abc import Iterable, Mapping, Sequence

from brewhygiene.cellar.allergens import Allergen, words_of
from brewhygiene.cellar.models import Beer
from brewhygiene.changeovers.carried import Carried, carried_by, undeclared
from brewhygiene.changeovers.models import AllergenTest, Finding, Validation
from brewhygiene.turnarounds.models import Clean, Turnaround


@dataclasses.dataclass(frozen=True)
class Changeover:
    """What a vessel carries, and the validations and tests of the cleans of one turnaround."""

    next_beer: Beer | None = None
    carried: Mapping[str, Carried] = dataclasses.field(default_factory=dict)
    tests: Sequence[AllergenTest] = ()
    validations: Sequence[Validation] = ()

    @property
    def crossing(self) -> list[str]:
        """What the next beer does not declare; nothing where that beer is not known."""
        return undeclared(self.carried, self.next_beer) if self.next_beer is not None else []

    def validation_of(self, clean: Clean, allergen: str) -> Validation | None:
        """The validation that stood when a clean ended."""
        ended = clean.finished_at
        return next(
            (
                one
                for one in self.validations
                if one.version_id == clean.version_id
                and one.allergen == allergen
                and ended is not None
                and one.signed_at <= ended
                and (one.retired_at is None or one.retired_at > ended)
            ),
            None,
        )

    def tests_of(self, clean: Clean, allergen: str) -> list[AllergenTest]:
        """The tests for an allergen after a clean."""
        return [one for one in self.tests if one.clean_id == clean.pk and one.allergen == allergen]


NO_CHANGEOVER = Changeover()


def changeover_of(turnaround: Turnaround) -> Changeover:
    """As it stands, or stood when the turnaround was closed. 6 queries.

    ``vessel``, ``next_beer`` and ``closing_fill__beer`` have to be joined.
    """
    closing = turnaround.closing_fill
    until = None if closing is None else closing.filled_at
    return Changeover(
        next_beer=turnaround.next_beer if closing is None else closing.beer,
        carried=carried_by([turnaround.vessel], until=until)[turnaround.vessel_id],
        tests=list(AllergenTest.objects.filter(clean__turnaround=turnaround).order_by("pk")),
        validations=list(
            Validation.objects.filter(version__cleans__turnaround=turnaround)
            .order_by("pk")
            .distinct()
        ),
    )


def _label(allergen: str) -> str:
    """With a capital, as a sentence begins."""
    label = str(Allergen(allergen).label)
    return f"{label[0].upper()}{label[1:]}"


def _missing(changeover: Changeover, clean: Clean | None, allergen: str) -> str:
    """What is missing to prove that an allergen is gone."""
    whose = f"{_label(allergen)} of {changeover.carried[allergen].beer}"
    if clean is None:
        return f"{whose}: no finished clean"
    tests = changeover.tests_of(clean, allergen)
    if positive := next((one for one in tests if one.result == Finding.POSITIVE), None):
        return f"{whose}: {positive.words}. Clean again"
    if changeover.validation_of(clean, allergen) is None:
        return f"{whose}: {clean.version} is not validated against it"
    if not tests:
        return f"{whose}: no allergen test after the clean"
    return f"{whose}: went through it again after its test"


def _proofs(changeover: Changeover, clean: Clean | None) -> Iterable[str]:
    """What was proved to be gone, and by what."""
    if clean is None:
        return
    tested = {one.allergen for one in changeover.tests if one.clean_id == clean.pk}
    for allergen in Allergen.values:
        validation = changeover.validation_of(clean, allergen)
        if allergen not in tested or allergen in changeover.carried or validation is None:
            continue
        tests = "; ".join(one.words for one in changeover.tests_of(clean, allergen))
        yield (
            f"{_label(allergen)}: {clean.version}, validated {validation.validated_on} "
            f"({validation.report}); {tests}"
        )


def evidence_of(changeover: Changeover, clean: Clean | None) -> list[str]:
    """Of the check in a release: what is missing, else what there is to say.

    ``clean`` is the last full clean that was finished.
    """
    crossing = changeover.crossing
    if crossing:
        return [_missing(changeover, clean, allergen) for allergen in crossing]
    said = list(_proofs(changeover, clean))
    if changeover.carried:
        named = words_of(changeover.carried)
        if changeover.next_beer is None:
            said.append(f"Carries {named}. The next beer is not known, so its filling asks")
        else:
            said.append(f"Carries {named}, which {changeover.next_beer.name} declares")
    return said or ["Carries no allergen of the list"]
