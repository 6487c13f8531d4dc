"""What tests of several parts of the station share."""

import gc
import sys
from collections.abc import Callable
from types import FunctionType, ModuleType

import pytest


@pytest.fixture
def held_bytes() -> Callable[[object], int]:
    """The memory that an object holds: bytes of it and of all it leads to, but classes, functions and modules."""

    def held(thing: object) -> int:
        seen: set[int] = set()
        waiting, total = [thing], 0
        while waiting:
            one = waiting.pop()
            if id(one) not in seen and not isinstance(one, type | ModuleType | FunctionType):
                seen.add(id(one))
                total += sys.getsizeof(one)
                waiting.extend(gc.get_referents(one))
        return total

    return held
