"""Every kind of screen of the invented brewery: its name, who looks at it, and its address.

Addresses are written out, so that a page that has moved shows whether its old address still leads
to it. Which vessel, clean or reading is shown is looked up in the database.
"""

import dataclasses
from collections.abc import Callable, Iterator
from typing import Any

HAND, BREWER, OWNER, NOBODY = "jonas", "mara", "tomas", ""


@dataclasses.dataclass(frozen=True)
class Screen:
    """A page as one person sees it; ``opens`` are buttons to press before the picture."""

    name: str
    who: str
    address: str
    opens: tuple[str, ...] = ()


def _rows(model: str, **wanted: Any) -> Any:
    from django.apps import apps

    return apps.get_model("brewhygiene", model).objects.filter(**wanted)


def _pk(model: str, *, order: str = "-pk", **wanted: Any) -> int | None:
    """The row looked for, or ``None`` where this brewery has none."""
    pk: int | None = _rows(model, **wanted).order_by(order).values_list("pk", flat=True).first()
    return pk


def _turn(vessel: str) -> int | None:
    return _pk("turnaround", vessel__name=vessel)


def _vessel_of(place: str) -> int | None:
    return _pk("vessel", name=place)


def _numbers() -> dict[str, int | None]:
    """What stands in braces in the addresses below."""
    running = _rows("steprecord", ended_at__isnull=True).order_by("-pk").first()
    due = next(iter(_rows("turnaround", vessel__name="YV 1").order_by("-pk")[:1]), None)
    point = due.vessel.points.order_by("order").first() if due else None
    clean_with_file = _rows("loggerfile").order_by("-pk").first()
    check = _rows("controlcheck").order_by("-pk").first()
    return {
        "running_clean": running.clean_id if running else None,
        "running_step": running.step_id if running else None,
        "running_turn": running.clean.turnaround_id if running else None,
        "done_clean": _pk("clean", finished_at__isnull=False),
        "due_turn": due.pk if due else None,
        "due_point": point.pk if point else None,
        "decide_turn": _turn("FV 5"),
        "closed_turn": _pk("turnaround", closed_at__isnull=False, decisions__outcome="hold"),
        "released_turn": _pk("turnaround", closed_at__isnull=True, decisions__outcome="release"),
        "empty_turn": _pk("turnaround", closed_at__isnull=True, cleans__isnull=True),
        "vessel": _vessel_of("FV 5"),
        "full_vessel": _pk("vessel", fills__emptying__isnull=True),
        "entry": _pk("entry"),
        "point": _pk("samplingpoint", active=True, order="pk"),
        "clear": _pk("result", verdict="clear"),
        "alert": _pk("result", verdict="alert"),
        "action": _pk("result", verdict="action"),
        "unjudged": _pk("result", verdict="unjudged"),
        "meter": _pk("meter", order="pk"),
        "check": check.pk if check else None,
        "check_meter": check.meter_id if check else None,
        "lot": _pk("atptestlot"),
        "atp_test": _pk("atptest"),
        "limits": _pk("limitset"),
        "waiting_limits": _pk("limitset", approved_at__isnull=True),
        "baseline": _pk("baseline"),
        "bridge": _pk("bridge"),
        "pending_plate": _pk("plate", state="pending"),
        "positive_plate": _pk("plate", state="positive"),
        "open_plate": _pk("plate", state="positive", resolved_at__isnull=True),
        "held_vessel": _vessel_of("FV 1"),
        "batch": _pk("batch", holds__ended_at__isnull=True, holds__isnull=False),
        "crop": _pk("yeastcrop", source="cropped"),
        "packaged_lot": _pk("lot", number="K-001"),
        "drill": _pk("recalldrill"),
        "open_hold": _pk("hold", ended_at__isnull=True, batch__isnull=False),
        "rest_hold": _pk("hold", ended_at__isnull=True, batch__isnull=True, crop__isnull=True),
        "logger_file": clean_with_file.pk if clean_with_file else None,
        "logged_clean": clean_with_file.clean_id if clean_with_file else None,
        "deviation": _pk("deviation"),
        "reading": _pk("stepreading"),
        "agent": _pk("agent", order="pk"),
        "regime": _pk("regime", order="pk"),
        "beer": _pk("beer", order="pk"),
        "person": _pk("user", username="jonas"),
    }


# Name, who, address.
FLOOR = [
    ("board", HAND, "/"),
    ("board-urgent", HAND, "/?sort=urgent"),
    ("board-filtered", HAND, "/?status=to_sample"),
    ("board-owner", OWNER, "/"),
    ("wall", HAND, "/?wall"),
    ("wall-light", HAND, "/?wall=light"),
    ("sample-list", HAND, "/sample/"),
    ("vessel", HAND, "/vessels/{vessel}/"),
    ("vessel-brewer", BREWER, "/vessels/{full_vessel}/"),
    ("turnaround", HAND, "/turnarounds/{decide_turn}/"),
    ("turnaround-closed", BREWER, "/turnarounds/{closed_turn}/"),
    ("part-work", HAND, "/vessels/{vessel}/part-work/"),
    ("empty", HAND, "/vessels/{full_vessel}/empty/"),
    ("next-beer", HAND, "/turnarounds/{due_turn}/next-beer/"),
    ("regime-choice", HAND, "/turnarounds/{empty_turn}/regime/"),
    ("opened", HAND, "/turnarounds/{due_turn}/opened/"),
    ("clean", HAND, "/cleans/{running_clean}/"),
    ("clean-done", HAND, "/cleans/{done_clean}/"),
    ("clean-cost", BREWER, "/cleans/{done_clean}/cost/"),
    ("clean-stop", HAND, "/cleans/{running_clean}/stop/"),
    ("step", HAND, "/cleans/{running_clean}/steps/{running_step}/"),
    ("step-end", HAND, "/cleans/{running_clean}/steps/{running_step}/end/"),
    ("step-leave-out", HAND, "/cleans/{running_clean}/steps/{running_step}/leave-out/"),
    ("deviation", BREWER, "/deviations/{deviation}/decide/"),
    ("reading-correct", BREWER, "/readings/{reading}/correct/"),
    ("logger-files", BREWER, "/cleans/{logged_clean}/logger-files/"),
    ("logger-file", BREWER, "/logger-files/{logger_file}/"),
    ("samples", HAND, "/turnarounds/{due_turn}/samples/"),
    ("sample", HAND, "/turnarounds/{due_turn}/samples/{due_point}/"),
    ("result-clear", HAND, "/atp-readings/{clear}/"),
    ("result-alert", HAND, "/atp-readings/{alert}/"),
    ("result-action", HAND, "/atp-readings/{action}/"),
    ("result-unjudged", HAND, "/atp-readings/{unjudged}/"),
    ("result-correct", BREWER, "/atp-readings/{clear}/correct/"),
    ("meters", HAND, "/meters/"),
    ("meter-check", HAND, "/meters/{meter}/check/"),
    ("meter-checked", HAND, "/meters/{check_meter}/check/{check}/"),
]
DECIDING = [
    ("release", BREWER, "/release/"),
    ("decide", BREWER, "/release/{decide_turn}/"),
    ("without-meter", BREWER, "/release/{decide_turn}/without-meter/"),
    ("resanitise", BREWER, "/turnarounds/{due_turn}/re-sanitise/"),
    ("fill", BREWER, "/turnarounds/{released_turn}/fill/"),
    ("fill-without-release", BREWER, "/turnarounds/{decide_turn}/fill-without-release/"),
    ("plates", BREWER, "/plates/"),
    ("plate", BREWER, "/plates/{positive_plate}/"),
    ("plate-read", BREWER, "/plates/{pending_plate}/read/"),
    ("plate-correct", BREWER, "/plates/{positive_plate}/correct/"),
    ("plate-close", BREWER, "/plates/{open_plate}/close/"),
    ("plate-send", HAND, "/turnarounds/{decide_turn}/plates/send/"),
    ("trends", OWNER, "/trends/"),
    ("trends-rows", OWNER, "/trends/rows/all/?in=90"),
    ("trends-compare", BREWER, "/trends/compare/"),
    ("trends-compare-rows", BREWER, "/trends/compare/rows/?by=vessel&of={vessel}"),
    ("trends-plates", BREWER, "/trends/plates/"),
    ("trends-signals", BREWER, "/trends/signals/"),
    ("trends-common", BREWER, "/trends/common/"),
    ("trends-vessel", BREWER, "/trends/vessels/{vessel}/"),
    ("trends-point", BREWER, "/trends/points/{point}/"),
    ("trends-meter", BREWER, "/trends/meters/{meter}/"),
    ("new-phase", BREWER, "/trends/points/{point}/new-phase/"),
]
BATCHES = [
    ("batches", BREWER, "/batches/"),
    ("batch", BREWER, "/batches/{batch}/"),
    ("batch-record", HAND, "/batches/record/"),
    ("batch-hold", HAND, "/batches/{batch}/hold/"),
    ("crops", HAND, "/crops/"),
    ("crop", BREWER, "/crops/{crop}/"),
    ("crop-bought", HAND, "/crops/bought/"),
    ("packaged-lots", HAND, "/packaged-lots/"),
    ("packaged-lot", BREWER, "/packaged-lots/{packaged_lot}/"),
    ("ship", HAND, "/packaged-lots/{packaged_lot}/ship/"),
    ("recall-drill", BREWER, "/recall-drills/{drill}/"),
    ("pitch", HAND, "/vessels/{held_vessel}/pitch/"),
    ("transfer", HAND, "/vessels/{held_vessel}/transfer/"),
    ("dry-hop", HAND, "/vessels/{held_vessel}/dry-hop/"),
    ("crop-yeast", HAND, "/vessels/{held_vessel}/crop/"),
    ("package", HAND, "/vessels/{held_vessel}/package/"),
    ("trace", BREWER, "/plates/{open_plate}/trace/"),
    ("hold", BREWER, "/holds/{open_hold}/"),
    ("hold-rest", BREWER, "/holds/{rest_hold}/"),
    ("find", HAND, "/find/?q=1"),
]
SETTING_UP = [
    ("setup", BREWER, "/set-up/"),
    ("ledger", OWNER, "/ledger/"),
    ("ledger-entry", OWNER, "/ledger/1/"),
    ("ledger-head", OWNER, "/ledger/head/"),
    ("setup-brewery", BREWER, "/set-up/brewery/"),
    ("setup-prices", BREWER, "/set-up/prices/"),
    ("setup-rules", BREWER, "/set-up/release-rules/"),
    ("setup-clocks", BREWER, "/set-up/hold-times/"),
    ("health", BREWER, "/health/"),
    ("ledger", BREWER, "/ledger/"),
    ("ledger-entry", BREWER, "/ledger/{entry}/"),
    ("ledger-head", BREWER, "/ledger/head/"),
    ("setup-people", BREWER, "/set-up/people/"),
    ("setup-person-add", BREWER, "/set-up/people/add/"),
    ("setup-person", BREWER, "/set-up/people/{person}/"),
    ("setup-person-forget", BREWER, "/set-up/people/{person}/forget/"),
    ("setup-vessels", BREWER, "/set-up/vessels/"),
    ("setup-vessel", BREWER, "/set-up/vessels/{vessel}/"),
    ("setup-vessel-add", BREWER, "/set-up/vessels/add/"),
    ("setup-vessel-edit", BREWER, "/set-up/vessels/{vessel}/edit/"),
    ("setup-vessel-out", BREWER, "/set-up/vessels/{vessel}/out-of-service/"),
    ("setup-point", BREWER, "/set-up/points/{point}/"),
    ("setup-beers", BREWER, "/set-up/beers/"),
    ("setup-beer", BREWER, "/set-up/beers/{beer}/"),
    ("setup-agents", BREWER, "/set-up/agents/"),
    ("setup-agent", BREWER, "/set-up/agents/{agent}/"),
    ("setup-calibration", BREWER, "/set-up/agents/{agent}/calibration/"),
    ("setup-regimes", BREWER, "/set-up/regimes/"),
    ("setup-regime", BREWER, "/set-up/regimes/{regime}/"),
    ("setup-regime-retire", BREWER, "/set-up/regimes/{regime}/retire/"),
    ("setup-regime-edit", BREWER, "/set-up/regimes/{regime}/edit/"),
    ("setup-regime-shipped", BREWER, "/set-up/regimes/{regime}/shipped/"),
    ("setup-meters", BREWER, "/set-up/meters/"),
    ("setup-meter", BREWER, "/set-up/meters/{meter}/"),
    ("setup-atp-tests", BREWER, "/set-up/atp-tests/"),
    ("setup-test-lot", BREWER, "/set-up/atp-tests/lots/{lot}/"),
    ("setup-atp-test", BREWER, "/set-up/atp-tests/{atp_test}/"),
    ("setup-limits", BREWER, "/set-up/limits/"),
    ("setup-limits-propose", BREWER, "/set-up/limits/propose/"),
    ("setup-limits-approve", BREWER, "/set-up/limits/{waiting_limits}/approve/"),
    ("baselines", BREWER, "/set-up/limits/baselines/"),
    ("baseline", BREWER, "/set-up/limits/baselines/{baseline}/"),
    ("baseline-propose", BREWER, "/set-up/limits/baselines/{baseline}/propose/?method=percentile"),
    ("bridges", BREWER, "/set-up/bridges/"),
    ("bridge", BREWER, "/set-up/bridges/{bridge}/"),
    ("bridge-pair", HAND, "/set-up/bridges/{bridge}/pair/"),
    ("bench", HAND, "/bench/"),
    ("bench-make-up", HAND, "/bench/make-up/"),
    ("bench-cost", BREWER, "/bench/cost/"),
    ("sign-in", NOBODY, "/sign-in/"),
    ("switch", HAND, "/switch/"),
    ("pin", HAND, "/pin/"),
    ("password", HAND, "/password/"),
    ("not-found", HAND, "/nothing-here/"),
    ("parts", BREWER, "/parts/"),
]


# Forms that refuse to be sent blank: with their errors each is a screen of its own.
REFUSED = (
    *("clean-stop", "decide", "fill", "meter-check", "opened", "plate-read", "reading-correct"),
    *("sample", "setup-limits-propose", "setup-regime-retire", "setup-vessel-add", "sign-in"),
)
# Lists that find nothing.
NOTHING = [
    ("board-nothing", HAND, "/?status=cleaning&kind=keg"),
    ("ledger-nothing", BREWER, "/ledger/?about=nothing-of-this-name"),
    ("trends-compare-nothing", BREWER, "/trends/compare/?first=2020-01-01&last=2020-01-31"),
]


def with_refused(listed: list[tuple[str, str, str]]) -> Iterator[tuple[str, str, str, str]]:
    """Each as it is opened, then what is sent blank."""
    for name, who, address in listed:
        yield name, who, address, ""
        if name in REFUSED:
            yield (
                f"{name}-refused",
                who,
                address,
                "main form[method=post] button:is(.primary, .stop)",
            )


def screens(matches: Callable[[str], bool]) -> Iterator[Screen]:
    """The screens whose name matches, and a word on the terminal for each that has nothing."""
    numbers = _numbers()
    listed = [*FLOOR, *DECIDING, *BATCHES, *SETTING_UP, *NOTHING]
    for name, who, address, pressed in with_refused(listed):
        if not matches(name):
            continue
        wanted = {key for key in numbers if f"{{{key}}}" in address}
        if missing := sorted(key for key in wanted if numbers[key] is None):
            print(f"{name}: this brewery has no {', '.join(missing)}")
            continue
        opens = (pressed,) if pressed else ()
        yield Screen(name, who, address.format(**numbers), opens)
