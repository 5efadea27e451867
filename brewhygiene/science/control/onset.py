"""When a shift that a chart signals may have begun."""

from collections.abc import Sequence

# A shift is not looked for further back than this.
FURTHEST = 100


def step_onset(z: Sequence[float], *, found: int, first: int = 0) -> int:
    """The likeliest first reading of a lasting step that is signalled at place ``found``.

    The maximum-likelihood place for a step of a normal mean from a known centre: of all n readings
    up to ``found``, those whose sum squared over n is greatest, the sum on the signal's side.
    ``z`` are readings in sigmas from the centre; nothing before place ``first`` is looked at, nor
    more than 100 readings back. A slow creep is dated to where it can be seen, not to its birth.

    >>> step_onset([0.3, -0.4, 0.2, 0.1, 1.4, 1.1, 1.6], found=6)
    4

    References
    ----------
    .. [1] Samuel T.R., Pignatiello J.J., Calvin J.A., Quality Engineering 10 (1998) 521-527
       (from memory).
    """
    recent = z[max(first, found - 4) : found + 1]
    side = 1.0 if sum(recent) >= 0 else -1.0
    best, place, total = -1.0, found, 0.0
    for i in range(found, max(first, found - FURTHEST) - 1, -1):
        total += side * z[i]
        score = total * total / (found - i + 1) if total > 0 else -1.0
        if score > best:
            best, place = score, i
    return place
