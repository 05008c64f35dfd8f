"""What to ask: a high ask keeps buyers away, a low one caps what the best of them pays."""

from __future__ import annotations

from dataclasses import dataclass

from valuation.errors import PlanError
from valuation.sell.waiting import Offers

GRID = 60


@dataclass(frozen=True, slots=True)
class AskOutcome:
    """What an ask leads to.

    Attributes
    ----------
    ask : float
        Money.
    expected_price : float
        Price on which talks end on average, money.
    expected_weeks : float or None
        Until a buyer is found with whom they end; None when none would come.
    """

    ask: float
    expected_price: float
    expected_weeks: float | None


def gain_per_offer(offers: Offers, floor: float, ask: float, room: float) -> float:
    """Expected gain over the floor for each buyer who looks, money, when no offer under the floor is taken.

    Parameters
    ----------
    offers : Offers
        What each buyer would pay at most.
    floor, ask : float
        Money, floor <= ask.
    room : float
        Share by which talks can end under the ask, in [0, 1): a buyer who would pay less than (1 - room) ask does not
        come to talk.

    Notes
    -----
    A buyer who would pay x comes if x >= (1 - room) ask and ends at min(x, ask); with m = max(floor, (1 - room) ask)
    the gain is E[min(X, ask) - floor; X >= m].
    """
    least = max(floor, (1 - room) * ask)
    return offers.expected_above(least) + (least - floor) * offers.odds_above(least) - offers.expected_above(ask)


def ask_outcome(offers: Offers, floor: float, ask: float, room: float, per_week: float) -> AskOutcome:
    """What comes of an ask, with so many buyers per week (> 0); see ``gain_per_offer``.

    Parameters
    ----------
    offers : Offers
    floor : float
        Money.
    ask : float
        Money.
    room : float
        How far talks usually end under the ask, a share of it.
    per_week : float
        Serious offers a week, > 0.
    """
    odds = offers.odds_above(max(floor, (1 - room) * ask))
    if odds <= 0:
        return AskOutcome(ask, ask, None)
    return AskOutcome(ask, floor + gain_per_offer(offers, floor, ask, room) / odds, 1 / (per_week * odds))


def best_ask(offers: Offers, floor: float, room: float, per_week: float) -> AskOutcome:
    """The ask with the largest expected gain over the floor, to a thousandth of the floor.

    Parameters
    ----------
    offers : Offers
    floor : float
        Money.
    room : float
        How far talks usually end under the ask, a share of it.
    per_week : float
        Serious offers a week, > 0.
    """
    low, high = floor, max(floor / (1 - room), offers.quantile(0.999)) * 1.1
    for _ in range(3):
        width = (high - low) / GRID
        asks = [low + i * width for i in range(GRID + 1)]
        best = max(asks, key=lambda ask: gain_per_offer(offers, floor, ask, room))
        low, high = max(best - width, floor), best + width
    return ask_outcome(offers, floor, best, room, per_week)


def ask_table(offers: Offers, floor: float, ask: float, room: float, per_week: float) -> list[AskOutcome]:
    """What asks around the best one lead to: from a tenth under it (not under the floor) to a fifth over it.

    Parameters
    ----------
    offers : Offers
    floor : float
        Money.
    ask : float
        The best one, money.
    room : float
        How far talks usually end under the ask, a share of it.
    per_week : float
        Serious offers a week, > 0.
    """
    asks = sorted({max(ask * share, floor) for share in (0.9, 0.95, 1.0, 1.05, 1.1, 1.2)})
    return [ask_outcome(offers, floor, one, room, per_week) for one in asks]


def markdown_asks(offers: Offers, rounds: int) -> list[float]:
    """Asks, round after round, to one buyer who takes the first that is not above what the vehicle is worth to them.

    Parameters
    ----------
    offers : Offers
        What the vehicle is worth to the buyer.
    rounds : int
        How many asks there are time for, >= 1.

    Notes
    -----
    Lazear (1986), Retail pricing and clearance sales, American Economic Review 76(1), 14-32. Every ask that was refused
    tells that the buyer's value is lower. Solved from the last round back: the sum of p_i (F(p_(i-1)) - F(p_i)) is
    maximised ask by ask until none moves.
    """
    if rounds < 1:
        raise PlanError(f"Asks need at least one round; found {rounds}. Say how often the ask can be lowered.")
    from scipy.optimize import minimize_scalar

    top = offers.quantile(1 - 1e-9)
    bottom = offers.quantile(1e-9)
    asks = [top - (top - bottom) * (i + 1) / (rounds + 1) for i in range(rounds)]
    for _ in range(200):
        before = list(asks)
        for i in range(rounds):
            above = asks[i - 1] if i else top
            below = asks[i + 1] if i + 1 < rounds else 0.0
            odds_reached = offers.odds_above(above) if i else 0.0

            def loss(
                price: float, reached: float = odds_reached, below: float = below, last: bool = i + 1 == rounds
            ) -> float:
                sold_now = price * (offers.odds_above(price) - reached)
                sold_next = 0.0 if last else below * (offers.odds_above(below) - offers.odds_above(price))
                return -(sold_now + sold_next)

            floor = below if i + 1 < rounds else bottom
            asks[i] = float(minimize_scalar(loss, bounds=(floor, above), method="bounded", options={"xatol": 1e-10}).x)
        if max(abs(a - b) for a, b in zip(asks, before, strict=True)) < 1e-9 * top:
            break
    return asks
