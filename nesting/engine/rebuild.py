"""Rebuilding: some of what lies is taken away and placed anew."""

from __future__ import annotations

import numpy as np

from .arrays import State
from .forcer import Forcer
from .placer import Placer
from .world import site_orders


def rebuilt(placer: Placer, best: State) -> State:
    """What lies farthest from a packed end, or around a random item, is taken away with all later containers, and
    placed anew."""
    given, random, limits, state = placer.given, placer.random, placer.given.limits, best.copy()
    placed = np.nonzero((state[:, 0] >= 0) & ~given.pinned)[0]
    if len(placed) == 0:
        return state
    container = state[random.choice(placed), 0]
    here = placed[state[placed, 0] == container]
    if random.random() < limits.far_odds:
        far = state[here, 1:3] @ given.world.away[int(container)]
        gone = here[far >= np.quantile(far, 1 - random.uniform(*limits.far_shares))]
    else:
        distance = np.hypot(*(state[here, 1:3] - state[random.choice(here), 1:3]).T)
        gone = here[distance <= np.quantile(distance, random.uniform(*limits.near_shares))]
    later = placed[np.isin(state[placed, 0], placer.later(state, int(container)))]
    state[np.union1d(gone, later)] = -1.0
    placer.fill(state, random.choice(limits.rebuild_blurs))
    return state


def vacated(placer: Placer, forcer: Forcer, best: State) -> State:
    """What lies in the last used container is moved, as much as will go, into the others."""
    given, state = placer.given, best.copy()
    last = int(next(c for c in placer.order[::-1] if (state[:, 0] == c).any()))
    gone = np.nonzero((state[:, 0] == last) & ~given.pinned)[0]
    state[gone] = -1.0
    placer.fill(state, given.limits.refill_blur, order=placer.order[placer.order != last])
    for _ in range(len(gone)):
        out = gone[state[gone, 0] < 0]
        if len(out) == 0:
            break
        moved = forcer.force(out, state, avoid=last)
        state = state if moved is None else moved
    placer.fill(state, 0.0)
    return state


def regrouped(placer: Placer, best: State, item: int) -> State:
    """A whole group, of which this item found no place, is taken away, and a site looked for with room for all of
    it."""
    given, state = placer.given, best.copy()
    state[(given.world.item_group == given.world.item_group[item]) & ~given.pinned] = -1.0
    orders = site_orders(given.world, given.limits)
    placer.fill(state, given.limits.refill_blur, order=orders[placer.random.integers(len(orders))])
    return state
