"""What workers are given to do; apart, so that each of them imports no more than this."""

import os
import signal
import time
from pathlib import Path


def die(_task):
    os.kill(os.getpid(), signal.SIGKILL)


def die_once(path):
    if not Path(path).exists():
        Path(path).touch()
        die(path)
    return path


def die_if_negative(number):
    return die(number) if number < 0.0 else number


def nap(seconds):
    time.sleep(seconds)
    return seconds


class Stubborn(Exception):  # noqa: N818
    def __reduce__(self):
        raise TypeError("stays here")


def be_stubborn(_task):
    raise Stubborn
