"""Tasks for worker processes, which import this module by its name."""

import os
import signal

from api.workers import tell
from valuation.errors import PlanError


def double(number):
    tell("half way", 0.5)
    return 2 * number


def endless():
    sum(iter(int, 1))  # one call that never comes back, which no exception can break into


def refused():
    raise PlanError("the plan contradicts itself")


def broken():
    raise OSError("secret")


def killed():
    os.kill(os.getpid(), signal.SIGKILL)


def process():
    return os.getpid()
