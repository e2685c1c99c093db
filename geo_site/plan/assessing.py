"""What a person's own layout costs and breaks.

Question
    Somebody moved the basin or redrew the stream: what does that give, cost and break?
In
    A site and the works that were drawn.
Out
    A plan with the drawn works in it to the last digit, what was missing worked out round them,
    the rules that they break, and what has changed since the earlier plan.
Method
    The method of :func:`geo_site.plan.propose` with the drawn works in the place of those that
    it would look for.
Reference
    docs/method.md, "A drawn layout".
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from geo_site.drawn import Drawn, Earlier
from geo_site.errors import InputRefused
from geo_site.plan.choosing import Progress
from geo_site.plan.figures import figures_of, words_of
from geo_site.plan.keeping import Kept
from geo_site.plan.method import propose
from geo_site.plan.pinned import with_pins
from geo_site.plan.results import Change, Plan
from geo_site.plan.settings import Settings
from geo_site.site import Site

__all__ = ["assess"]

_ALIKE = 1e-6


def assess(
    site: Site,
    drawn: Drawn,
    earlier: Earlier | None = None,
    *,
    settings: Settings | None = None,
    progress: Progress | None = None,
    kept: Kept | None = None,
) -> Plan:
    """Judge works that a person drew or moved.

    Parameters
    ----------
    site : Site
        What was read.
    drawn : Drawn
        The works; what the site file pins is added where nothing is drawn.
    earlier : Earlier, optional
        What the plan said before it was edited.
    settings : Settings, optional
        Default: those of the site file.
    progress : callable, optional
        Called with a word as each step begins.
    kept : Kept, optional
        Results of earlier runs on the same site: the terrain is not worked out again.

    Returns
    -------
    Plan
        ``status`` ``assessed``; ``no_place`` where nothing can be worked out round what is drawn.

    Raises
    ------
    InputRefused
        Nothing is drawn, or a drawn work cannot be worked out at all.
    """
    if not drawn.has_works:
        raise InputRefused(
            "no work is drawn: no basin, stream, pipe, pile, fence or way",
            remedy="draw at least one, or let geo-site propose them",
        )
    fixed = with_pins(drawn, site.fixed)
    plan = propose(replace(site, fixed=fixed), settings, progress, kept=kept)
    if plan.proposal is None:
        return plan
    changes = tuple(_changes(plan, earlier or Earlier()))
    return replace(plan, status="assessed", changes=changes)


def _changes(plan: Plan, earlier: Earlier) -> Iterator[Change]:
    """Give every figure that one of both has; equal ones with a difference of 0."""
    now = figures_of(plan)
    if not earlier.figures:
        return
    for name in dict.fromkeys((*now, *earlier.figures)):
        before, after = earlier.figures.get(name, math.nan), now.get(name, math.nan)
        apart = after - before
        if abs(apart) <= _ALIKE * max(abs(before), abs(after)):
            apart = 0.0
        words, unit = words_of(name)
        yield Change(
            name=name, words=words, unit=unit, before=before, after=after, difference=apart
        )
