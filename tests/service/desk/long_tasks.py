"""Tasks for worker processes, which import this module by its name."""

import os
import signal

from valuation.errors import PlanError


def double(report, number):
    report("half way", 0.5)
    return 2 * number


def endless(report):
    sum(iter(int, 1))  # one call that never comes back, which no exception can break into


def refused(report):
    raise PlanError("the plan contradicts itself")


def broken(report):
    raise OSError("secret")


def killed(report):
    os.kill(os.getpid(), signal.SIGKILL)


def process(report):
    return os.getpid()
