"""What to look for in the ledger."""

import zoneinfo
from collections.abc import Sequence
from datetime import datetime, time, timedelta
from typing import Any

from django import forms
from django.db.models import Q, QuerySet
from django.utils.text import capfirst

from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import User
from brewhygiene.quantities.days import DayField


class FilterForm(forms.Form):
    """Entries by person, action, record, and day by the brewery's own calendar."""

    person = forms.ChoiceField(required=False, label="Recorded by")
    action = forms.ChoiceField(required=False, label="Action")
    about = forms.CharField(required=False, max_length=60, label="Record", help_text="E.g. FV 3.")
    since = DayField(required=False, label="From")
    until = DayField(required=False, label="To")

    def __init__(
        self, *args: Any, people: Sequence[User], actions: Sequence[str], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        named = [(str(person.pk), str(person)) for person in people]
        self.fields["person"].choices = [("", "everybody"), ("0", "the system"), *named]  # type: ignore[attr-defined]
        self.fields["action"].choices = [("", "every action"), *((a, capfirst(a)) for a in actions)]  # type: ignore[attr-defined]

    def chosen(self, zone: zoneinfo.ZoneInfo) -> QuerySet[Entry]:
        """The entries asked for, the newest first; of a field that is wrong, nothing is asked."""
        entries = Entry.objects.select_related("user").order_by("-number")
        asked = self.cleaned_data if self.is_bound and self.is_valid() else self._sound()
        if person := asked.get("person"):
            entries = entries.filter(user=None if person == "0" else int(person))
        if action := asked.get("action"):
            entries = entries.filter(verb=action)
        if about := asked.get("about"):
            entries = entries.filter(Q(subject_label__icontains=about) | Q(aggregate=about))
        if since := asked.get("since"):
            entries = entries.filter(recorded_at__gte=datetime.combine(since, time(), zone))
        if until := asked.get("until"):
            after = datetime.combine(until + timedelta(days=1), time(), zone)
            entries = entries.filter(recorded_at__lt=after)
        return entries

    def _sound(self) -> dict[str, Any]:
        return getattr(self, "cleaned_data", {}) if self.is_bound else {}
