"""The database tables, for whoever looks after the server.

What is set up may be edited here, and each change leaves its ledger entry as one made on the
product's own screens does. What happened (results, readings, decisions, signatures, the
ledger) may be read and nothing more. So may the rules (release rules, hold times, sampling
points, limits, regimes): they change with the password of somebody whose role includes it.
"""

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.contrib.auth.models import Group
from django.db import models, transaction
from django.forms import ModelForm
from django.http import HttpRequest, HttpResponse

from brewhygiene import models as records
from brewhygiene.batches import admin_lists
from brewhygiene.board.handovers import admin_lists as handover_lists
from brewhygiene.cellar.vessels.actions import RULED_BY
from brewhygiene.changeovers import admin_lists as changeover_lists
from brewhygiene.delivery import admin_lists as delivery_lists
from brewhygiene.ledger.changes import as_value
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people import admin_lists as people_lists
from brewhygiene.people.actions import NAMES
from brewhygiene.people.requests import actor_of
from brewhygiene.skids import admin_lists as skid_lists

if TYPE_CHECKING:
    # Django's own classes take a type for the checker only.
    AnyForm = ModelForm[Any]
    AnyModelAdmin = admin.ModelAdmin[Any]
else:
    AnyForm = ModelForm
    AnyModelAdmin = admin.ModelAdmin

# Never in the ledger, not even hashed.
SECRET = frozenset({"password", "password1", "password2", "pin_hash", "usable_password"})


@action("admin change")
def write_through_admin(
    *, by: Actor, record: models.Model, write: Callable[[], Any], values: dict[str, Any]
) -> Recorded[models.Model]:
    """Let the admin site do one write, with its ledger entry in the same transaction.

    Who may is the admin site's own question: it asks before it gets here.
    """
    pk = record.pk
    write()
    record.pk = record.pk or pk  # the ledger names what is gone, too
    return Recorded(record, values)


def _kept(value: Any) -> Any:
    if isinstance(value, Iterable) and not isinstance(value, str | bytes | dict):
        return [as_value(item) for item in value]
    return as_value(value)


def changed_values(form: AnyForm) -> dict[str, Any]:
    """What a form changed, before and after, without any secret and without anybody's name."""
    hidden = SECRET | (NAMES if isinstance(form.instance, records.User) else frozenset())
    names = [name for name in form.changed_data if name not in hidden]
    values: dict[str, Any] = {
        "before": {name: _kept(form.initial.get(name)) for name in names},
        "after": {name: _kept(form.cleaned_data.get(name)) for name in names},
    }
    if not_shown := sorted(hidden & set(form.changed_data)):
        values["not shown"] = not_shown
    return values


class SetUpAdmin(AnyModelAdmin):
    """A table that may be edited; every write passes through the ledger's door."""

    def save_model(
        self, request: HttpRequest, obj: models.Model, form: AnyForm, change: bool
    ) -> None:
        def write() -> None:
            super(SetUpAdmin, self).save_model(request, obj, form, change)
            # Links to other rows are part of the row: one entry binds both.
            form.save_m2m()

        write_through_admin(
            by=actor_of(request),
            record=obj,
            write=write,
            values={"did": "edit" if change else "add", **changed_values(form)},
        )

    def delete_model(self, request: HttpRequest, obj: models.Model) -> None:
        write_through_admin(
            by=actor_of(request), record=obj, write=obj.delete, values={"did": "delete"}
        )

    def delete_queryset(self, request: HttpRequest, queryset: "models.QuerySet[Any]") -> None:
        with transaction.atomic():
            for record in queryset:
                self.delete_model(request, record)


class RecordAdmin(AnyModelAdmin):
    """A table of what happened, or of rules that are signed for, to be read."""

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


# --- set-up ------------------------------------------------------------------------------------


@admin.register(records.User)
class HouseUserAdmin(SetUpAdmin, UserAdmin):
    """People. Nobody is deleted: a name stands under what it signed."""

    list_display = ("username", "full_name", "initials", "is_active", "is_staff", "last_login")
    list_filter = ("is_active", "is_staff", "groups")
    search_fields = ("username", "full_name")
    readonly_fields = ("last_login", "date_joined")
    filter_horizontal = ("groups",)
    fieldsets = (
        (None, {"fields": ("username", "password")}),
        ("Person", {"fields": ("full_name", "initials")}),
        ("Permissions", {"fields": ("is_active", "groups", "is_staff", "is_superuser")}),
        ("Dates", {"fields": ("last_login", "date_joined")}),
    )
    add_fieldsets = (
        (
            None,
            {"fields": ("username", "full_name", "initials", "password1", "password2")},
        ),
    )

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> tuple[str, ...]:
        """Nobody gives themselves a role here: on the product's page that takes a reason."""
        own = obj is not None and obj.pk == request.user.pk
        return (*self.readonly_fields, "groups") if own else self.readonly_fields

    def save_model(
        self, request: HttpRequest, obj: models.Model, form: AnyForm, change: bool
    ) -> None:
        if not change:
            obj.password_set_by = str(request.user)  # type: ignore[attr-defined]
        super().save_model(request, obj, form, change)

    def user_change_password(
        self,
        request: HttpRequest,
        id: str,  # noqa: A002 - Django's name
        form_url: str = "",
    ) -> HttpResponse:
        # One transaction with the ledger entry that log_change writes.
        with transaction.atomic():
            return super().user_change_password(request, id, form_url)

    def log_change(self, request: HttpRequest, obj: Any, message: Any) -> Any:
        match = request.resolver_match
        if match is not None and match.url_name == "auth_user_password_change":

            def take_pin() -> None:
                obj.pin_hash = ""
                # Whoever gives a password knows it, until its owner chooses another.
                obj.password_set_by = "" if obj.pk == request.user.pk else str(request.user)
                obj.save(update_fields=["pin_hash", "password_set_by"])

            write_through_admin(
                by=actor_of(request),
                record=obj,
                write=take_pin,
                values={"did": "edit", "password": "given anew", "pin": "taken"},
            )
        return super().log_change(request, obj, message)


@admin.register(records.Brewery)
class BreweryAdmin(SetUpAdmin):
    """The brewery, but for its release rules: those are signed for on their own page."""

    list_display = ("name", "time_zone", "volume_unit", "is_demo")
    readonly_fields = ("self_release_allowed", "waivable_gates")

    def has_add_permission(self, request: HttpRequest) -> bool:
        return not records.Brewery.objects.exists()

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(records.Vessel)
class VesselAdmin(SetUpAdmin):
    """Photos are taken on the product's own screens, which check them."""

    list_display = ("name", "kind", "volume_hl", "default_regime", "out_of_service_since", "order")
    list_filter = ("kind",)
    list_select_related = ("default_regime",)
    search_fields = ("name",)
    exclude = ("photo",)

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> tuple[str, ...]:
        """What a vessel's release rules follow from is signed for on the product's page."""
        return () if obj is None else tuple(sorted(RULED_BY))


@admin.register(records.SamplingPoint)
class SamplingPointAdmin(RecordAdmin):
    list_display = ("vessel", "name", "sample_kind", "required_for_release", "active", "code")
    list_filter = ("sample_kind", "active")
    list_select_related = ("vessel",)
    search_fields = ("name", "vessel__name", "code")


@admin.register(records.Entry)
class EntryAdmin(RecordAdmin):
    list_display = ("number", "recorded_at", "who", "verb", "subject_label", "aggregate")
    list_filter = ("verb",)
    list_select_related = ("user",)
    search_fields = ("subject_label", "aggregate")
    date_hierarchy = "recorded_at"
    ordering = ("-number",)


# What the lists of the other tables show: names of fields, one after the other.
SET_UP: dict[type[models.Model], dict[str, str]] = {
    records.Beer: {
        "list_display": "name sour_or_mixed diastatic allergens allergen strict_before active",
        # Signed for on the product's page.
        "readonly_fields": "allergens sour_or_mixed diastatic strict_before",
        "search_fields": "name",
    },
    records.Agent: {
        "list_display": "name kind active_substance concentrate_strength_ww active",
        "list_filter": "kind active",
    },
    records.Meter: {"list_display": "name serial blank_max_rlu positive_min_rlu active"},
    records.AtpTest: {"list_display": "name sample_kind storage"},
    records.AtpTestLot: {
        "list_display": "lot atp_test expires_on active",
        "list_select_related": "atp_test",
    },
}
RECORDS: dict[type[models.Model], dict[str, str]] = {
    records.Binding: {"list_display": "entry table row digest", "list_select_related": "entry"},
    records.Shape: {"list_display": "table digest"},
    records.Head: {"list_display": "number signed_at way"},
    records.HoldClock: {"list_display": "vessel_kind dirty_hold_h clean_hold_h sanitised_hold_h"},
    records.Regime: {"list_display": "name level resanitises_only under_co2 active"},
    records.RegimeVersion: {
        "list_display": "regime number current created_at created_by",
        "list_select_related": "regime created_by",
    },
    records.Step: {
        "list_display": "version order kind agent",
        "list_select_related": "version__regime agent",
    },
    records.StepWindow: {
        "list_display": "step quantity minimum target maximum basis",
        "list_select_related": "step",
    },
    records.Turnaround: {
        "list_display": "vessel opened_at closed_at next_beer revision",
        "list_select_related": "vessel next_beer",
    },
    records.VesselStart: {
        "list_display": "vessel stood released_at paper_signer recorded_at recorded_by",
        "list_select_related": "vessel recorded_by",
    },
    records.Emptying: {
        "list_display": "vessel emptied_at beer recorded_by",
        "list_select_related": "vessel beer recorded_by",
    },
    records.Fill: {
        "list_display": "vessel beer batch filled_at without_release recorded_by",
        "list_select_related": "vessel beer recorded_by",
    },
    records.Clean: {
        "list_display": "turnaround version purpose started_at finished_at stopped_at",
        "list_select_related": "turnaround__vessel version__regime",
    },
    records.StepRecord: {
        "list_display": "clean step started_at ended_at",
        "list_select_related": "clean__turnaround__vessel clean__version__regime step",
    },
    records.LoggerFile: {
        "list_display": "original_name clean size_bytes uploaded_at uploaded_by",
        "list_select_related": "clean__turnaround__vessel clean__version__regime uploaded_by",
    },
    records.LoggerMapping: {"list_display": "name made_at made_by"},
    records.ConductivityCalibration: {
        "list_display": "agent made_at made_by retired_at",
        "list_select_related": "agent made_by",
    },
    records.StepReading: {
        "list_display": "record quantity value verdict taken_at taken_by",
        "list_select_related": "record__step record__clean__turnaround__vessel "
        "record__clean__version__regime taken_by",
    },
    records.Deviation: {
        "list_display": "description disposition disposed_by",
        "list_select_related": "disposed_by",
    },
    records.SafetyAcknowledgement: {
        "list_display": "clean step user acknowledged_at",
        "list_select_related": "clean__turnaround__vessel clean__version__regime step user",
    },
    records.VesselOpening: {
        "list_display": "turnaround opened_at reason recorded_by",
        "list_select_related": "turnaround__vessel recorded_by",
    },
    records.ControlCheck: {
        "list_display": "meter checked_at blank_rlu positive_rlu passed checked_by",
        "list_select_related": "meter checked_by",
    },
    records.LimitSet: {
        "list_display": "meter atp_test point alert_rlu action_rlu approved_at",
        "list_select_related": "meter atp_test point__vessel",
    },
    records.RecoveryStudy: {"list_display": "agent ratio proved", "list_select_related": "agent"},
    records.Result: {
        "list_display": "point rlu verdict meter taken_at recorded_by",
        "list_select_related": "point__vessel meter recorded_by",
        "list_filter": "verdict",
    },
    records.Plate: {
        "list_display": "point medium taken_at due_on state colonies",
        "list_select_related": "point__vessel",
    },
    records.PartWork: {
        "list_display": "vessel point kind done_at recorded_by",
        "list_select_related": "vessel point__vessel recorded_by",
    },
    records.Baseline: {
        "list_display": "name meter atp_test since until made_by",
        "list_select_related": "meter atp_test made_by",
    },
    records.BaselineExclusion: {
        "list_display": "baseline reason excluded_at excluded_by readmitted_at",
        "list_select_related": "baseline result__point__vessel excluded_by",
    },
    records.Bridge: {
        "list_display": "reference_meter new_meter opened_at approved_at retired_at",
        "list_select_related": "reference_meter new_meter",
    },
    records.BridgePair: {
        "list_display": "bridge reference_rlu new_rlu taken_at left_out_reason",
        "list_select_related": "bridge__reference_meter bridge__new_meter",
    },
    records.ChartPhase: {
        "list_display": "point meter begins_at baseline_until reason made_by",
        "list_select_related": "point__vessel meter made_by",
    },
    records.FoundCause: {
        "list_display": "turnaround cause note found_at recorded_by",
        "list_select_related": "turnaround__vessel recorded_by",
    },
    records.DishCount: {
        "list_display": "plate dilution volume_ml colonies",
        "list_select_related": "plate__point__vessel",
    },
    records.PlateCorrection: {
        "list_display": "plate was_state is_state reason corrected_at corrected_by",
        "list_select_related": "plate__point__vessel corrected_by",
    },
    records.PointStanding: {
        "list_display": "point meter readings rule since evidence",
        "list_select_related": "point__vessel meter",
    },
    records.Decision: {
        "list_display": "turnaround outcome decided_at signature self_release",
        "list_select_related": "turnaround__vessel signature",
    },
}
RECORDS |= admin_lists.RECORDS | changeover_lists.RECORDS
RECORDS |= people_lists.RECORDS | handover_lists.RECORDS | delivery_lists.RECORDS
RECORDS |= skid_lists.RECORDS
for kind, tables in ((SetUpAdmin, SET_UP), (RecordAdmin, RECORDS)):
    for model, options in tables.items():
        admin.site.register(
            model, kind, **{option: names.split() for option, names in options.items()}
        )

# The roles come with the product, and each start puts their permissions right again.
admin.site.unregister(Group)
admin.site.register(Group, RecordAdmin)
admin.site.site_header = "Database tables"
admin.site.site_title = "Database tables"
admin.site.index_title = "For whoever looks after the server"
