"""What is asked of the page of ATP against plates."""

from collections.abc import Mapping
from datetime import datetime, timedelta

from django import forms

from brewhygiene.brewery.models import Brewery
from brewhygiene.quantities.fields import NumberField
from brewhygiene.quantities.parsing import show_number
from brewhygiene.trends.plates.study import Costs

PERIODS = {"quarter": 91, "year": 365, "two_years": 730, "ever": None}
MOST_MONEY = 1_000_000


class PlatesForm(forms.Form):
    """The period, and what the two ways of being wrong cost."""

    period = forms.ChoiceField(
        label="Period of plates",
        choices=[
            ("quarter", "the last 13 weeks"),
            ("year", "the last year"),
            ("two_years", "the last two years"),
            ("ever", "all plates"),
        ],
        required=False,
        error_messages={"invalid_choice": "Choose a period of the list."},
    )
    scale = forms.CharField(widget=forms.HiddenInput, required=False, max_length=60)
    missed = NumberField(
        label="Cost of a dirty vessel filled", low=0, high=MOST_MONEY, required=False
    )
    needless = NumberField(
        label="Cost of a needless re-clean", low=0, high=MOST_MONEY, required=False
    )

    def __init__(self, asked: Mapping[str, str], *, brewery: Brewery) -> None:
        """What is not asked for is a year and the brewery's own prices."""
        self.brewery = brewery
        kept = {name: self._kept(name) for name in ("missed", "needless")}
        prices = {name: show_number(cost) for name, cost in kept.items() if cost is not None}
        # A form sent empty asks for nothing else than a page without a form does.
        given = {name: value for name, value in asked.items() if value}
        data = {"period": "year", **prices, **given}
        super().__init__(data, label_suffix="")
        for name in ("missed", "needless"):
            self.fields[name].widget.unit = brewery.currency  # type: ignore[attr-defined]

    def clean(self) -> dict[str, object]:
        given = super().clean() or self.cleaned_data
        for name, other in (("missed", "needless"), ("needless", "missed")):
            if given.get(name) == 0:
                self.add_error(
                    name, "Enter more than 0, or leave it blank. A cost of 0 gives no cut-off."
                )
            lonely = given.get(name) is None and given.get(other) is not None
            if lonely and name not in self.errors:
                self.add_error(name, "Enter this cost too. A cut-off needs both.")
        return given

    def _kept(self, name: str) -> float | None:
        brewery = self.brewery
        return brewery.missed_tank_cost if name == "missed" else brewery.needless_clean_cost

    @property
    def period_days(self) -> int | None:
        return PERIODS[self.cleaned_data.get("period") or "year"]

    def since(self, now: datetime) -> datetime | None:
        return None if self.period_days is None else now - timedelta(days=self.period_days)

    @property
    def costs(self) -> Costs | None:
        """As typed, or as the brewery's prices have them; ``None`` where one is not known."""
        if {"missed", "needless"} & set(self.errors):
            return None
        missed, needless = (self.cleaned_data.get(name) for name in ("missed", "needless"))
        if not missed or not needless:
            return None
        return Costs(missed, needless, self.brewery.currency)
