"""The form of a photograph."""

from django import forms

from brewhygiene.people.forms import ActionForm


class PhotoForm(ActionForm):
    photo = forms.FileField(
        label="Photo",
        max_length=300,
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
        help_text="JPEG, PNG or WebP, up to 15 MB.",
        error_messages={
            "required": "Choose a photo.",
            "empty": "This file is empty. Choose another.",
            "invalid": "Choose a photo.",
        },
    )
