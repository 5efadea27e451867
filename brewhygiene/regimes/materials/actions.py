"""Signed words on materials: keep a label, withdraw it, sign the limits of a regime on a vessel."""

import dataclasses

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from brewhygiene.cellar.materials import Material
from brewhygiene.cellar.models import Vessel
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.people.signatures import sign
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.materials.fit import gas_words, unfit
from brewhygiene.regimes.materials.limits import unsigned_limits
from brewhygiene.regimes.materials.models import MaterialLabel, SignedLimits
from brewhygiene.regimes.materials.table import Verdict
from brewhygiene.regimes.models import Agent, RegimeVersion


@dataclasses.dataclass(frozen=True)
class LabelFile:
    """A file that was read and found to be a PDF or a photo; ``name`` is the sender's."""

    name: str
    content: bytes
    sha256: str
    suffix: str


def keep_label(
    *,
    by: Actor,
    agent: Agent,
    material: str,
    says: str,
    file: LabelFile,
    password: str,
    max_strength: float | None = None,
) -> MaterialLabel:
    """Keep a label that allows an agent on a material; no file is left where it fails."""
    require(by, "edit_setup")
    stored = default_storage.save(
        f"labels/{file.sha256[:12]}{file.suffix}", ContentFile(file.content)
    )
    try:
        label = _keep_label(
            by=by,
            agent=agent,
            material=material,
            says=says,
            file=file,
            stored=stored,
            password=password,
            max_strength=max_strength,
        )
    except BaseException:
        default_storage.delete(stored)
        raise
    if label.file.name != stored:  # sent twice by one form: the first stands
        default_storage.delete(stored)
    return label


@action("keep material label")
def _keep_label(
    *,
    by: Actor,
    agent: Agent,
    material: str,
    says: str,
    file: LabelFile,
    stored: str,
    password: str,
    max_strength: float | None,
) -> Recorded[MaterialLabel]:
    require(by, "edit_setup")
    if material not in Material.values:
        raise Refusal("Choose a material.", field="material")
    words = f"{agent.name} on {Material(material).label}"
    judged = unfit(agent, material)
    if judged is None or judged.verdict != Verdict.NOT:
        raise Refusal(
            f"{words} is not refused, so it needs no label. Choose another material.",
            field="material",
            code="not_refused",
        )
    if judged.row.gas:
        raise Refusal(
            f"{words}: {judged.row.limit}{gas_words(judged.row)}. No label allows this. Choose "
            "another agent for it.",
            field="material",
            code="gas_forms",
        )
    if not says.strip():
        raise Refusal("Enter the words of the label that allow it.", field="says")
    if max_strength is not None and max_strength <= 0:
        raise Refusal("Enter a strength above 0.", field="max_strength")
    signature = sign(by=by, password=password, meaning=f"Allowed by its label: {words}")
    label = MaterialLabel.objects.create(
        agent=agent,
        material=material,
        max_strength=max_strength,
        says=says.strip(),
        file=stored,
        original_name=file.name,
        size_bytes=len(file.content),
        sha256=file.sha256,
        signature=signature,
        signed_at=by.now,
    )
    return Recorded(
        label,
        {
            "agent": agent.name,
            "material": material,
            "max_strength": max_strength,
            "says": label.says,
            "sha256": label.sha256,
            "size_bytes": label.size_bytes,
        },
        aggregate=agent,
    )


@action("withdraw material label")
def withdraw_label(
    *, by: Actor, label: MaterialLabel, reason: str, password: str
) -> Recorded[MaterialLabel]:
    """Refuse an agent on a material again from now on; the label stays on record."""
    user = require(by, "edit_setup")
    label = (
        MaterialLabel.objects.select_for_update(of=("self",))
        .select_related("agent", "signature")
        .get(pk=label.pk)
    )
    if label.withdrawn_at is not None:
        raise Refusal("This label no longer counts already.", code="withdrawn")
    if not reason.strip():
        raise Refusal("Enter a reason.", field="reason")
    sign(by=by, password=password, meaning=f"No longer allowed: {label}")
    label.withdrawn_at = by.now
    label.withdrawn_by = user
    label.withdrawal_reason = reason.strip()
    label.save()
    return Recorded(
        label,
        {"material": label.material, "reason": label.withdrawal_reason},
        aggregate=label.agent,
    )


@action("sign limits of materials")
def sign_limits(
    *, by: Actor, version: RegimeVersion, vessel: Vessel, password: str
) -> Recorded[SignedLimits]:
    """Sign once what a regime version may do to a vessel only within limits.

    Its steps show the limits from then on, and ask for no tick. A material that is edited later
    asks anew.
    """
    require(by, "edit_setup")
    limits = unsigned_limits(version, vessel)
    if not limits:
        raise Refusal(
            f"No limit of {version} on {vessel.name} waits to be signed.", code="nothing_to_sign"
        )
    signed = SignedLimits.objects.create(
        version=version,
        vessel=vessel,
        limit_words=limits,
        signature=sign(
            by=by, password=password, meaning=f"Limits of {version} on {vessel.name} seen to"
        ),
        signed_at=by.now,
    )
    return Recorded(
        signed, {"vessel": vessel.name, "limit_words": limits}, aggregate=version.regime
    )
