"""Where a falling function crosses zero."""

from __future__ import annotations

from collections.abc import Callable

MOST_ROUNDS = 200
"""A guard against a function without a zero: an ordinary search ends after a few dozen."""


def falling_root(function: Callable[[float], float], low: float, high: float, tolerance: float) -> float:
    """The point at which ``function``, which never rises, crosses zero.

    Parameters
    ----------
    function : callable
        Need not be smooth. Where it is above zero at ``high`` or below zero at ``low`` the bracket is moved outwards,
        twice as far each time.
    low, high : float
        First bracket, low < high.
    tolerance : float
        Width of the last bracket, > 0; the answer is its lower end, where the function is still at or above zero.

    Notes
    -----
    Inverse quadratic steps where three points allow them, halving where not: Chandrupatla (1997), A new hybrid
    quadratic/bisection algorithm for finding the zero of a nonlinear function, Advances in Engineering Software 28(3).
    """
    low, high, at_low, at_high = _bracket(function, low, high)
    near, far, older = low, high, high  # newest point, the end across the zero, the point before
    at_near, at_far, at_older = at_low, at_high, at_high
    share = 0.5
    for _ in range(MOST_ROUNDS):
        point = near + share * (far - near)
        value = function(point)
        if (value >= 0) == (at_near >= 0):
            older, at_older = near, at_near
        else:
            older, far, at_older, at_far = far, near, at_far, at_near
        near, at_near = point, value
        narrowest = tolerance / (2 * abs(far - near))
        if narrowest > 0.5:
            break
        share = min(max(_step(near, far, older, at_near, at_far, at_older), narrowest), 1 - narrowest)
    return min(near, far)


def _step(near: float, far: float, older: float, at_near: float, at_far: float, at_older: float) -> float:
    """Share of the way from the newest point to the far end at which to look next."""
    across = (near - far) / (older - far)
    value_across = (at_near - at_far) / (at_older - at_far) if at_older != at_far else 1.0
    trusted = value_across**2 < across and (1 - value_across) ** 2 < 1 - across
    if not trusted or at_near in (at_far, at_older):
        return 0.5
    return at_near / (at_far - at_near) * at_older / (at_far - at_older) + (older - near) / (far - near) * at_near / (
        at_older - at_near
    ) * at_far / (at_older - at_far)


def _bracket(function: Callable[[float], float], low: float, high: float) -> tuple[float, float, float, float]:
    """Ends on both sides of the zero, and the function there."""
    width = high - low
    at_low, at_high = function(low), function(high)
    for _ in range(MOST_ROUNDS):
        if at_low >= 0:
            break
        low, high, at_high = low - width, low, at_low
        width *= 2
        at_low = function(low)
    for _ in range(MOST_ROUNDS):
        if at_high < 0:
            break
        low, high, at_low = high, high + width, at_high
        width *= 2
        at_high = function(high)
    return low, high, at_low, at_high
