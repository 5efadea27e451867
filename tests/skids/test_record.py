"""What a release record says of the skid and the solution of a step."""

from datetime import timedelta

from brewhygiene.reports.record.build import contents_of
from brewhygiene.turnarounds.models import Turnaround
from brewhygiene.turnarounds.steps.solutions.drawing import Draws
from tests.factories import NOW, make_vessel
from tests.skids.scenes import SkidCellar

LATER = NOW + timedelta(days=2)


def attempts(turnaround: Turnaround) -> list[str]:
    record = contents_of(turnaround, now=LATER + timedelta(hours=1))
    return [
        attempt.words
        for clean in record.cleans
        for step in clean.steps
        for attempt in step.attempts
    ]


def test_the_record_names_skid_and_solution_as_it_was_last_read(house: SkidCellar) -> None:
    house.ruled(most_days=1, may_explain=True)
    hose = house.made_skid("Hose 4", "hose")
    clean = house.began(
        house.regime(("pre_rinse", None, ""), ("caustic", house.caustic, "")),
        vessel=make_vessel(),
        now=LATER,
        hose=hose,
    )
    house.step_done(clean, 1, now=LATER)
    made = house.made_up()
    draws = Draws(solution=made, reason="Titrated at noon")
    house.step_done(clean, 2, draws, now=LATER + timedelta(minutes=6))
    rinse, caustic = attempts(clean.turnaround)
    assert rinse.endswith(". On Skid 1, Hose 4")
    assert caustic.endswith(
        ". Went back to the tank. On Skid 1, Hose 4. Solution from Caustic tank 1: 2 % w/w, made "
        "up 2 days ago, 0 uses, past its dump rule: Titrated at noon"
    )


def test_the_record_says_that_a_solution_was_made_up_fresh(house: SkidCellar) -> None:
    house.made_up()
    clean = house.began(house.regime(("caustic", house.caustic, "")), now=LATER)
    house.step_done(clean, 1, Draws(made_fresh=True), now=LATER)
    (words,) = attempts(clean.turnaround)
    assert words.endswith(". On Skid 1, solution made up fresh")


def test_without_skids_the_record_says_nothing_of_them(house: SkidCellar) -> None:
    clean = house.began(house.regime(("caustic", house.caustic, "")), now=LATER, skid=None)
    house.step_done(clean, 1, now=LATER)
    (words,) = attempts(clean.turnaround)
    assert "kid" not in words
    assert "olution" not in words
