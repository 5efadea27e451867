"""Forms of labels: one to keep, one to withdraw."""

import hashlib
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from brewhygiene.cellar.materials import Material
from brewhygiene.cellar.photos.files import MOST_BYTES, prepared_photo
from brewhygiene.people.forms import ConfirmedForm
from brewhygiene.quantities.fields import NumberField
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.materials.actions import LabelFile
from brewhygiene.regimes.models import Agent

PDF_BEGINS = b"%PDF-"
MOST_MB = MOST_BYTES // 1024**2


def read_label(upload: UploadedFile) -> LabelFile:
    """The file as it is kept: a PDF as it came, a photo made small.

    Raises :class:`Refusal` on ``file`` for a file that is too large or neither of the two.
    """
    assert upload.size is not None
    name = upload.name or "label"
    if upload.size > MOST_BYTES:
        raise Refusal(
            f"This file has {upload.size / 1024**2:.0f} MB. Choose one of up to {MOST_MB} MB.",
            field="file",
            code="too_large",
        )
    begins = upload.read(len(PDF_BEGINS))
    upload.seek(0)
    if begins == PDF_BEGINS:
        content, suffix = upload.read(), ".pdf"
    else:
        try:
            content, suffix = prepared_photo(upload).read(), ".jpg"
        except Refusal as refusal:
            raise Refusal(
                "This file is neither a PDF nor a readable photo. Choose a PDF, JPEG, PNG or WebP "
                "file.",
                field="file",
                code=refusal.code,
            ) from refusal
    return LabelFile(name, content, hashlib.sha256(content).hexdigest(), suffix)


class LabelForm(ConfirmedForm):
    """A label that allows an agent on a material that it is unfit for."""

    agent = forms.ModelChoiceField(
        label="Agent",
        queryset=Agent.objects.none(),
        empty_label=None,
        error_messages={"required": "Choose an agent."},
    )
    material = forms.ChoiceField(
        label="Material",
        choices=[
            choice
            for choice in Material.choices
            if choice[0] not in (Material.UNKNOWN, Material.NONE)
        ],
        error_messages={"required": "Choose a material."},
    )
    max_strength = NumberField(
        label="Maximum strength",
        low=0,
        high=1_000_000,
        required=False,
        help_text="Optional. If blank, at any strength. In % w/w for acids, caustics and peroxide, "
        "in mg/L for other sanitisers.",
    )
    says = forms.CharField(
        label="What the label says",
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="The words that allow it, e.g. safe on copper up to 1 %.",
        error_messages={"required": "Enter the words of the label that allow it."},
    )
    file = forms.FileField(
        label="Label or letter",
        max_length=200,
        help_text=f"A PDF or a photo of the label, or the supplier's letter. At most {MOST_MB} MB.",
        widget=forms.FileInput(attrs={"accept": "application/pdf,image/*"}),
        error_messages={
            "required": "Choose a file.",
            "missing": "Choose a file.",
            "empty": "The file is empty. Choose another.",
            "invalid": "The file did not arrive. Choose it again.",
            "max_length": "The file name is too long. Rename the file.",
        },
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        agent = self.fields["agent"]
        assert isinstance(agent, forms.ModelChoiceField)
        agent.queryset = Agent.objects.filter(active=True)


class WithdrawForm(ConfirmedForm):
    """Why a label no longer counts."""

    reason = forms.CharField(
        label="Reason",
        max_length=200,
        error_messages={"required": "Enter a reason."},
    )
