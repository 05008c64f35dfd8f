"""Who is signed in: random session numbers kept here, with an end; and the brake on guessing the token."""

from __future__ import annotations

import hashlib
import hmac
import ipaddress
import math
import secrets
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass

from api.problems import Refusal

DAY = 86_400.0
LIFE_SECONDS = 7 * DAY
"""A session ends so long after signing in, whatever is done with it."""
IDLE_SECONDS = 12 * 3600.0
"""And so long after its last use: a browser left over night is signed out."""
MOST_SESSIONS = 1_000
"""Sessions at once, well over what a shop has browsers: memory stays bounded. The oldest goes first."""
OWN_TRIES, OWN_SECONDS = 5, 12.0
"""Wrong tokens that one client may give at once, and how long it takes until one more may be given."""
ALL_TRIES, ALL_SECONDS = 50, 1.2
"""The same for all clients together, against guessing from many addresses. Both only delay: nobody is locked out."""
CODE_SECONDS = 600.0
"""How long a code signs in, if it was not used: time to fetch a telephone."""
CODE_CHARACTERS, CODE_LENGTH = "abcdefghijkmnpqrstuvwxyz23456789", 10
"""Of a code, which may have to be typed: none that is taken for another. 50 bits, and the brake lets few be tried."""
MOST_CLIENTS = 10_000
"""Addresses whose wrong tokens are counted: memory stays bounded, however many ask."""


class Sessions:
    """Sessions of signed-in browsers. They are kept in memory, so a restart signs everybody out.

    Parameters
    ----------
    clock : callable
        Seconds, never going back.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._known: OrderedDict[str, tuple[float, float]] = OrderedDict()  # begun, last used

    def begin(self, old: str = "") -> str:
        """The number of a new session; the one that the browser had before ends, so that none outlives a sign-in."""
        number = secrets.token_urlsafe(32)
        now = self._clock()
        with self._lock:
            self._known.pop(_hidden(old), None)
            self._known[_hidden(number)] = now, now
            while len(self._known) > MOST_SESSIONS:
                self._known.popitem(last=False)
        return number

    def use(self, number: str) -> bool:
        """Whether a session is open; using it keeps it from idling out."""
        key, now = _hidden(number), self._clock()
        with self._lock:
            begun, used = self._known.get(key, (-math.inf, -math.inf))
            if now - begun > LIFE_SECONDS or now - used > IDLE_SECONDS:
                self._known.pop(key, None)
                return False
            self._known[key] = begun, now
            return True

    def end(self, number: str) -> None:
        """Sign out."""
        with self._lock:
            self._known.pop(_hidden(number), None)


@dataclass(slots=True)
class _Bucket:
    """Tries that are left, filled up again as time goes on."""

    tries: float
    at: float

    def filled(self, now: float, most: int, seconds: float) -> float:
        self.tries, self.at = min(self.tries + (now - self.at) / seconds, most), now
        return self.tries


class Door:
    """Compares given tokens with the service's, hands out codes that sign in once, and slows down who gives wrong ones.

    Parameters
    ----------
    token : str
        The service's; empty when everybody may come in.
    clock : callable
        Seconds, never going back.
    """

    def __init__(self, token: str, clock: Callable[[], float] = time.monotonic) -> None:
        self._token, self._clock = token.encode(), clock
        self._lock = threading.Lock()
        self._all = _Bucket(ALL_TRIES, clock())
        self._own: OrderedDict[str, _Bucket] = OrderedDict()
        self._codes: dict[str, float] = {}

    @property
    def guarded(self) -> bool:
        """Whether a token is needed to come in."""
        return bool(self._token)

    def new_code(self) -> str:
        """A code that signs in once, for a while, in place of the token."""
        code = "".join(secrets.choice(CODE_CHARACTERS) for _ in range(CODE_LENGTH))
        with self._lock:
            self._codes[_hidden(code)] = self._clock() + CODE_SECONDS
        return code

    def _redeemed(self, given: str, now: float) -> bool:
        """Whether it is a code that still signs in; it does so no more."""
        return self._codes.pop(_hidden(given.strip().casefold()), -math.inf) >= now

    def opens(self, given: str, client: str, *, codes: bool = False) -> bool:
        """Whether it is the token, compared in constant time.

        Parameters
        ----------
        given : str
            The token given.
        codes : bool
            Whether a code that signs in once will do as well.
        client : str
            Who gives it.

        Raises
        ------
        Refusal
            With status 429 when this client, or all together, gave too many wrong ones just before. The token is then
            not looked at, be it right or wrong, since the answer would help to guess.
        """
        now = self._clock()
        with self._lock:
            key = _network(client)
            own = self._own.setdefault(key, _Bucket(OWN_TRIES, now))
            self._own.move_to_end(key)
            while len(self._own) > MOST_CLIENTS:
                self._own.popitem(last=False)
            wait = max(
                (1 - own.filled(now, OWN_TRIES, OWN_SECONDS)) * OWN_SECONDS,
                (1 - self._all.filled(now, ALL_TRIES, ALL_SECONDS)) * ALL_SECONDS,
            )
            if wait > 0:
                seconds = math.ceil(wait)
                raise Refusal(
                    429,
                    "service.slow_down",
                    f"Cannot look at the token: too many wrong ones were given just before. Wait {seconds} seconds and "
                    "try again. Who is signed in already stays so.",
                    {"Retry-After": str(seconds)},
                )
            right = self.guarded and hmac.compare_digest(self._token, given.encode("utf-8", "replace"))
            right = right or (codes and self._redeemed(given, now))
            if not right:
                own.tries -= 1
                self._all.tries -= 1
            return right


def _hidden(number: str) -> str:
    """What is kept of a session number: its hash, so that looking it up tells nothing by its time."""
    return hashlib.sha256(number.encode("utf-8", "replace")).hexdigest()


def _network(client: str) -> str:
    """The address that a client is counted by: of IPv6 the network, since one client has a whole one."""
    try:
        address = ipaddress.ip_address(client)
    except ValueError:
        return client
    return str(ipaddress.ip_network((client, 64), strict=False)) if address.version == 6 else client
