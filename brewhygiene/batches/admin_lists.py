"""What the lists of this room's tables show to whoever looks after the server.

With those of rooms below that keep lists of their own.
"""

from typing import Any

from django.db import models

from brewhygiene.batches.models.batches import Batch, BatchFill, YeastCrop
from brewhygiene.batches.models.corrections import (
    BrewCorrection,
    HoldNote,
    MovementCorrection,
    ShipmentCorrection,
)
from brewhygiene.batches.models.dumps import Dump
from brewhygiene.batches.models.holds import Hold, HoldDecision
from brewhygiene.batches.models.lots import Customer, Lot, RecallDrill, Shipment
from brewhygiene.batches.models.movements import Movement, Touch
from brewhygiene.plates.closing import admin_lists as closing_lists
from brewhygiene.regimes.materials import admin_lists as material_lists
from brewhygiene.turnarounds import admin_lists as turnaround_lists

RECORDS: dict[type[models.Model], dict[str, Any]] = {
    Customer: {"list_display": "name address", "search_fields": "name"},
    Batch: {
        "list_display": "number beer brewed_at volume_hl blended",
        "list_select_related": "beer",
    },
    BrewCorrection: {
        "list_display": "was_number is_number reason corrected_at corrected_by",
        "list_select_related": "corrected_by",
    },
    MovementCorrection: {
        "list_display": "movement was_batch reason corrected_at signature",
        "list_select_related": "movement was_batch signature",
    },
    ShipmentCorrection: {
        "list_display": "shipment was_lot reason corrected_at signature",
        "list_select_related": "shipment__lot shipment__customer was_lot signature",
    },
    HoldNote: {
        "list_display": "hold correction",
        "list_select_related": "hold__batch hold__crop correction__movement",
    },
    Dump: {
        "list_display": "movement why went decision signature",
        "list_select_related": "movement decision__hold__batch decision__hold__crop signature",
    },
    BatchFill: {
        "list_display": "batch fill",
        "list_select_related": "batch fill__vessel fill__beer",
    },
    YeastCrop: {
        "list_display": "number source cropped_from generation vessel cropped_at",
        "list_select_related": "cropped_from vessel",
    },
    Movement: {
        "list_display": "kind moved_at volume_hl loss_hl added recorded_by",
        "list_select_related": "recorded_by",
    },
    Touch: {
        "list_display": "movement place vessel fill crop lot",
        "list_select_related": "movement vessel fill__vessel fill__beer crop lot",
    },
    Lot: {
        "list_display": "number batch container units packaged_at",
        "list_select_related": "batch",
    },
    Shipment: {
        "list_display": "lot customer units shipped_on document",
        "list_select_related": "lot customer",
    },
    RecallDrill: {
        "list_display": "lot started_at ended_at in_stock lost",
        "list_select_related": "lot",
    },
    Hold: {
        "list_display": "plate batch crop rank held_at ended_at outcome",
        "list_select_related": "plate__point__vessel batch crop",
    },
    HoldDecision: {
        "list_display": "hold choice decided_at signature",
        "list_select_related": "hold__batch hold__crop signature",
    },
}

RECORDS |= closing_lists.RECORDS | material_lists.RECORDS | turnaround_lists.RECORDS
