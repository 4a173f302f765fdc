"""How kernels are compiled: without the lock, and kept on disk where some folder allows it."""

from collections.abc import Callable
from typing import Any, TypeVar, cast

import numba

Compiled = TypeVar("Compiled", bound=Callable[..., Any])


def compiled(function: Compiled) -> Compiled:
    """The function compiled, without the lock, and kept on disk where some folder allows it."""
    return _compile(function, forceinline=False)


def inlined(function: Compiled) -> Compiled:
    """As `compiled`, but written out wherever it is called, for what runs for every pair."""
    return _compile(function, forceinline=True)


def _compile(function: Compiled, *, forceinline: bool) -> Compiled:
    def made(cache: bool) -> Any:
        return numba.njit(nogil=True, error_model="numpy", cache=cache, forceinline=forceinline)(
            function
        )

    try:
        return cast(Compiled, made(cache=True))
    except RuntimeError:  # numba found no folder it may write its cache to
        return cast(Compiled, made(cache=False))
