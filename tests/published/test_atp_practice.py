"""What the trade says of ATP readings and plates: common practice, no source."""

from collections.abc import Callable
from datetime import date, datetime, timedelta

import pytest

from brewhygiene.atp.limits.queries import limits_in_force
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.readings.handling import COUNT_S
from brewhygiene.brewery.models import Brewery
from brewhygiene.plates.actions import send_plate
from brewhygiene.plates.media import MEDIA, Medium
from brewhygiene.refusals import Refusal
from brewhygiene.release.gates import Answer, gates_of
from brewhygiene.release.queries import load_dossier
from brewhygiene.turnarounds.models import Turnaround
from tests.factories import NOW, Cellar, acting, make_limits, make_meter, make_test_lot

pytestmark = pytest.mark.django_db

Published = Callable[..., None]

PRACTICE = "common practice, no source"
TOUCHED_TIP_RLU = (10 + 1, 20, 50, 99)


@pytest.fixture
def cellar() -> Cellar:
    """Limits are 10 and 30 RLU."""
    return Cellar()


def answer_of(turnaround: Turnaround, code: str, *, now: datetime = NOW) -> Answer:
    dossier = load_dossier(turnaround, now=now)
    gates = gates_of(dossier, brewery=Brewery.current(), now=now, user=None)
    (answer,) = (gate.answer for gate in gates if gate.code == code)
    return answer


def test_clean_rinse_reads_zero_and_is_clear(published: Published, cellar: Cellar) -> None:
    result = cellar.sampled(cellar.cleaned(), rlu=0)
    published("a clean rinse of 0 RLU", result.verdict, "clear", PRACTICE)


@pytest.mark.parametrize("rlu", TOUCHED_TIP_RLU)
def test_touched_tip_does_not_pass_a_limit_of_10(
    published: Published, cellar: Cellar, rlu: int
) -> None:
    make_limits(
        by=cellar.brewer,
        meter=cellar.meter,
        atp_test=cellar.atp_test,
        alert_rlu=10,
        action_rlu=10,
    )
    result = cellar.sampled(cellar.cleaned(), rlu=rlu, suspected_slip=True)
    published(f"a touched tip, {rlu} RLU, limit 10", result.verdict, "action", PRACTICE)


def test_touched_tip_stays_on_record_when_sampled_again(
    published: Published, cellar: Cellar
) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=45, suspected_slip=True)
    cellar.sampled(turnaround, rlu=0)
    kept = list(turnaround.results.values_list("rlu", flat=True))
    published("readings kept after a slip, RLU", kept, [45, 0], PRACTICE)
    answer = answer_of(turnaround, "nothing_over_action", now=NOW + timedelta(hours=1))
    published("a second swab wipes out the first", answer == Answer.YES, False, PRACTICE)


def test_meter_counts_for_15_s(published: Published) -> None:
    published("counting time of a meter, s", COUNT_S, 15, PRACTICE, tolerance=0)


def test_every_cleaned_vessel_is_sampled(published: Published, cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    now = NOW + timedelta(minutes=30)
    published(
        "cleaned, not sampled", answer_of(turnaround, "sampled", now=now).value, "no", PRACTICE
    )
    cellar.sampled(turnaround, now=now)
    published("cleaned, sampled", answer_of(turnaround, "sampled", now=now).value, "yes", PRACTICE)


def test_limits_belong_to_one_meter(published: Published, cellar: Cellar) -> None:
    lot = cellar.lot
    found = {
        whose: limits_in_force(
            meter=meter,
            test_lot=test_lot,
            point=cellar.point,
            moment="in_sanitiser",
            day=NOW.date(),
        )
        for whose, meter, test_lot in (
            ("its own meter", cellar.meter, lot),
            ("another meter", make_meter(), lot),
            ("another swab", cellar.meter, make_test_lot()),
        )
    }
    own = LimitSet.objects.get()
    for whose, expected in (
        ("its own meter", own),
        ("another meter", None),
        ("another swab", None),
    ):
        published(f"limits found for {whose}", found[whose], expected, PRACTICE)


def test_meters_scale_is_its_own(published: Published, cellar: Cellar) -> None:
    other = make_meter()
    make_limits(
        by=cellar.brewer, meter=other, atp_test=cellar.atp_test, alert_rlu=100, action_rlu=300
    )
    turnaround = cellar.cleaned()
    cellar.checked(meter=other)
    verdicts = [cellar.sampled(turnaround, rlu=50, meter=m).verdict for m in (cellar.meter, other)]
    published("50 RLU on two meters", verdicts, ["action", "clear"], PRACTICE)


def test_control_check_is_needed_on_each_day_of_use(published: Published, cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    now = NOW + timedelta(minutes=30)
    cellar.sampled(turnaround, now=now)
    answer = answer_of(turnaround, "control_check", now=now)
    published("checked on the day, gate", answer.value, "yes", PRACTICE)
    with pytest.raises(Refusal) as refused:
        cellar.sampled(turnaround, now=NOW + timedelta(days=1))
    published("read the day after", refused.value.code, "no_control_check", PRACTICE)


def test_plate_takes_up_to_ten_days(published: Published, cellar: Cellar) -> None:
    plate = send_plate(
        by=acting(cellar.hand),
        turnaround=cellar.cleaned(),
        point=cellar.point,
        medium="MRS",
        neutraliser="thiosulfate",
        incubation_c=28,
        incubation_days=10,
    )
    published("a slow plate is due", plate.due_on, date(2026, 3, 20), f"{PRACTICE}: up to 10 days")


@pytest.mark.parametrize("medium", MEDIA, ids=lambda medium: medium.name)
def test_medium_grows_as_long_and_as_warm_as_is_usual(published: Published, medium: Medium) -> None:
    days, warm_c = medium.incubation_days, medium.incubation_c
    published(f"{medium.name}, {days} d within 3 to 10 d", 3 <= days <= 10, True, PRACTICE)
    published(
        f"{medium.name}, {warm_c:g} °C within 25 to 30 °C", 25 <= warm_c <= 30, True, PRACTICE
    )
