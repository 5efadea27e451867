"""A regime's steps as they are typed, before they are written: plain values, no rows."""

import dataclasses
import hashlib
import json
from collections.abc import Sequence
from typing import Any

from brewhygiene.regimes.models import Agent, RegimeVersion, Step, StepWindow

COMMON_PRACTICE = "common practice, no source"


@dataclasses.dataclass(frozen=True)
class WindowDraft:
    """Bounds of one quantity, in the unit of the quantity's name or of the basis."""

    quantity: str
    minimum: float | None = None
    target: float | None = None
    maximum: float | None = None
    basis: str = ""
    source: str = ""

    @property
    def bounds(self) -> tuple[float | None, float | None, float | None]:
        return self.minimum, self.target, self.maximum


@dataclasses.dataclass(frozen=True)
class StepDraft:
    kind: str
    agent: Agent | None = None
    instruction: str = ""
    end_criterion: str = ""
    end_criterion_source: str = ""
    windows: tuple[WindowDraft, ...] = ()

    def window(self, quantity: str) -> WindowDraft | None:
        return next((window for window in self.windows if window.quantity == quantity), None)


def drafts_of(version: RegimeVersion) -> list[StepDraft]:
    """The steps of a stored version; reads prefetched steps, agents and windows."""
    return [
        StepDraft(
            kind=step.kind,
            agent=step.agent,
            instruction=step.instruction,
            end_criterion=step.end_criterion,
            end_criterion_source=step.end_criterion_source,
            windows=tuple(
                WindowDraft(
                    quantity=window.quantity,
                    minimum=window.minimum,
                    target=window.target,
                    maximum=window.maximum,
                    basis=window.basis,
                    source=window.source,
                )
                for window in step.windows.all()
            ),
        )
        for step in version.steps.all()
    ]


def write_steps(version: RegimeVersion, steps: Sequence[StepDraft]) -> None:
    """Write a version's steps and windows in place of those it has. 4 queries."""
    version.steps.all().delete()
    written = Step.objects.bulk_create(
        Step(
            version=version,
            order=order,
            kind=step.kind,
            agent=step.agent,
            instruction=step.instruction.strip(),
            end_criterion=step.end_criterion,
            end_criterion_source=step.end_criterion_source.strip() if step.end_criterion else "",
        )
        for order, step in enumerate(steps, start=1)
    )
    StepWindow.objects.bulk_create(
        StepWindow(step=row, **{**dataclasses.asdict(window), "source": window.source.strip()})
        for row, step in zip(written, steps, strict=True)
        for window in step.windows
    )


def as_values(steps: Sequence[StepDraft]) -> list[dict[str, Any]]:
    """The steps as the ledger keeps them."""
    return [
        {
            "kind": step.kind,
            "agent": step.agent.name if step.agent else None,
            "instruction": step.instruction,
            "end_criterion": step.end_criterion,
            "end_criterion_source": step.end_criterion_source,
            "windows": [dataclasses.asdict(window) for window in step.windows],
        }
        for step in steps
    ]


def fingerprint(about: dict[str, Any], steps: Sequence[StepDraft]) -> str:
    """A short mark of a regime's whole content: two that differ have different marks."""
    text = json.dumps([about, as_values(steps)], sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:16]
