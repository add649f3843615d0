"""What the interpreter does beside the tests, a third of a run's processor if it is let.

A test is called forty frames deep, and Django calls on from there. Wherever the frames of Python
3.11 and later outgrow a piece of 16 KB another one is fetched from the system and given back as
soon as they are out of it: three hundred thousand times while one role opens every page. And what
is there once for all (seven thousand tests, the models, their modules) would be looked through for
what nobody needs any more again and again.
"""

import gc
from collections.abc import Callable
from typing import Any

_ROOM = 70_000
"""Words that a frame says it needs: a piece for it is cut twice as large, and half stays free."""


def with_room(function: Callable[..., Any], *arguments: Any, **named: Any) -> Any:
    """Call something with half a megabyte ready for the frames above it."""
    return function(*arguments, **named)


with_room.__code__ = with_room.__code__.replace(co_stacksize=_ROOM)


def leave_alone_what_is_there() -> None:
    """Look for what nobody needs among what is made from now on alone, and less often."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(10_000, 20, 20)
