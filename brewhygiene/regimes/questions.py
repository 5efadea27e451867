"""What the regimes ask of the rooms above them."""

from typing import Any

from django.db.models import OuterRef, QuerySet

from brewhygiene.questions import Question
from brewhygiene.regimes.models import Regime, RegimeVersion

cleans_by: Question[[RegimeVersion | OuterRef], QuerySet[Any]] = Question(
    "Which cleans ran by a version, or by that of the query around it?"
)

is_validated: Question[[Regime], bool] = Question(
    "Was any version of a regime ever validated? Such a version is never changed in place."
)
