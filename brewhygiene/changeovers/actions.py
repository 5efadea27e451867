"""Actions of changeovers: validate a regime version, retire that, record an allergen test."""

from datetime import date, datetime

from brewhygiene.brewery.models import Brewery
from brewhygiene.brewery.time_zones import brewery_day
from brewhygiene.cellar.allergens import Allergen
from brewhygiene.changeovers.models import AllergenTest, Finding, HowTested, Validation
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.people.signatures import sign
from brewhygiene.quantities.sources import ValueSource
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import RegimeVersion
from brewhygiene.turnarounds.actions import check_when, lock_open_turnaround, raise_revision
from brewhygiene.turnarounds.models import Clean, CleanPurpose, Turnaround

# Three runs in a row, each tested. Common practice, no source.
LEAST_TESTS = 3
MOST_TESTS = 1000


def _check_allergen(allergen: str) -> None:
    if allergen not in Allergen.values:
        raise Refusal("Choose an allergen of the list.", field="allergen")


@action("validate changeover")
def validate_changeover(
    *,
    by: Actor,
    version: RegimeVersion,
    allergen: str,
    validated_on: date,
    report: str,
    tests: int,
    password: str,
) -> Recorded[Validation]:
    """Sign that a regime version takes an allergen away, by a report on so many negative tests."""
    user = require(by, "edit_setup")
    _check_allergen(allergen)
    version = (
        RegimeVersion.objects.select_for_update(of=("self",))
        .select_related("regime")
        .get(pk=version.pk)
    )
    if version.regime.resanitises_only:
        raise Refusal(
            f"{version.regime.name} only re-sanitises. Choose a regime that cleans.",
            field="version",
            code="no_clean",
        )
    if not version.current or not version.regime.active:
        raise Refusal(
            f"{version} is no longer in force. Choose another regime.",
            field="version",
            code="not_current",
        )
    if validated_on > brewery_day(by.now, Brewery.current()):
        raise Refusal("Enter a day that is not in the future.", field="validated_on")
    if not report.strip():
        raise Refusal("Enter where the report is to be found.", field="report")
    if not LEAST_TESTS <= tests <= MOST_TESTS:
        raise Refusal(
            f"Enter {LEAST_TESTS} to {MOST_TESTS} tests: fewer validate nothing.", field="tests"
        )
    if Validation.objects.filter(
        version=version, allergen=allergen, retired_at__isnull=True
    ).exists():
        raise Refusal(
            f"{version} is already validated against {Allergen(allergen).label}. Retire that "
            "first.",
            field="allergen",
            code="twice",
        )
    made = Validation.objects.create(
        version=version,
        allergen=allergen,
        validated_on=validated_on,
        report=report.strip(),
        tests=tests,
        signed_at=by.now,
        signature=sign(
            by=by,
            password=password,
            meaning=f"Validated {version} against {Allergen(allergen).label}"[:200],
        ),
    )
    return Recorded(
        made,
        {
            "regime": str(version),
            "allergen": allergen,
            "validated_on": validated_on,
            "report": made.report,
            "tests": tests,
            "signed_by": user.display_name,
        },
        aggregate=version.regime,
    )


@action("retire validation")
def retire_validation(
    *, by: Actor, validation: Validation, reason: str, password: str
) -> Recorded[Validation]:
    """Sign that a validation no longer stands; cleans that ended before it keep it."""
    require(by, "edit_setup")
    validation = (
        Validation.objects.select_for_update(of=("self",))
        .select_related("version__regime")
        .get(pk=validation.pk)
    )
    if validation.retired_at is not None:
        raise Refusal("This validation is already retired.", code="twice")
    if not reason.strip():
        raise Refusal("Enter a reason.", field="reason", code="no_reason")
    validation.retired_at = by.now
    validation.retired_reason = reason.strip()[:400]
    validation.retirement = sign(
        by=by, password=password, meaning=f"Retired the validation of {validation}"[:200]
    )
    validation.save(update_fields=["retired_at", "retired_reason", "retirement"])
    return Recorded(
        validation,
        {
            "regime": str(validation.version),
            "allergen": validation.allergen,
            "reason": validation.retired_reason,
        },
        aggregate=validation.version.regime,
    )


def _clean_to_test(turnaround: Turnaround) -> Clean:
    """The last full clean; refused while it runs, or where the last one was stopped."""
    clean = turnaround.cleans.filter(purpose=CleanPurpose.CLEAN).order_by("-pk").first()
    if clean is None or clean.finished_at is None:
        raise Refusal("Finish the clean first. A test before that shows nothing.", code="no_clean")
    return clean


@action("record allergen test")
def record_allergen_test(
    *,
    by: Actor,
    turnaround: Turnaround,
    allergen: str,
    kind: str,
    lot: str,
    expires_on: date,
    result: str,
    taken_at: datetime,
    note: str = "",
) -> Recorded[AllergenTest]:
    """Record what an allergen test showed after the last clean of an open turnaround."""
    user = require(by, "work_cellar")
    turnaround = lock_open_turnaround(turnaround)
    _check_allergen(allergen)
    if kind not in HowTested.values:
        raise Refusal("Choose how it was tested.", field="kind")
    if result not in Finding.values:
        raise Refusal("Choose negative or positive.", field="result")
    if not lot.strip():
        raise Refusal("Enter the lot of the test.", field="lot")
    clean = _clean_to_test(turnaround)
    taken_at = check_when(taken_at, by=by, field="taken_at", not_before=clean.finished_at)
    assert clean.finished_at is not None
    if taken_at < clean.finished_at:
        raise Refusal("Enter a time after the clean.", field="taken_at", code="too_early")
    if expires_on < brewery_day(taken_at, Brewery.current()):
        raise Refusal(
            "This test was out of date on that day. Test again with one in date.",
            field="expires_on",
            code="out_of_date",
        )
    made = AllergenTest.objects.create(
        clean=clean,
        allergen=allergen,
        kind=kind,
        lot=lot.strip(),
        expires_on=expires_on,
        result=result,
        source=ValueSource.READ,
        taken_at=taken_at,
        note=note.strip()[:200],
        recorded_at=by.now,
        recorded_by=user,
    )
    raise_revision(turnaround)
    return Recorded(
        made,
        {
            "allergen": allergen,
            "kind": kind,
            "lot": made.lot,
            "expires_on": expires_on,
            "result": result,
            "source": made.source,
            "taken_at": taken_at,
            "note": made.note,
        },
        aggregate=turnaround,
    )
