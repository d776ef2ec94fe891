"""A study's inputs as plain JSON, exact to the bit, so that two of them can be compared."""

from __future__ import annotations

import copyreg
import functools
import hashlib
import inspect
import math
import types
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

import lpgrelease
from lpgrelease.errors import InputError

__all__ = ["describe", "differences", "files_of_the_library"]

DEEPEST = 30
"""Nesting beyond which something is taken to hold itself."""


def describe(value: Any, name: str, depth: int = 0) -> Any:  # noqa: PLR0911, one return for each kind
    """Return `value` as JSON: equal descriptions mean equal inputs.

    Functions are told by name, source text, defaults and what they close over; other objects by what they
    would be pickled from. What a function reads from its module is not seen.

    Raises
    ------
    InputError
        Something cannot be described: it does not pickle, or holds itself.
    """
    if depth > DEEPEST:
        raise InputError(f"{name} is nested too deeply to be recorded; does it hold itself?")

    def inner(part: Any, of: Any) -> Any:
        return describe(part, f"{name}.{of}", depth + 1)

    if value is None or isinstance(value, (bool, int, str)):
        return value
    if isinstance(value, float):
        return value if math.isfinite(value) else repr(float(value))
    if isinstance(value, (np.ndarray, np.generic)) and not value.dtype.hasobject:
        return _array(np.asarray(value))
    if isinstance(value, dict):
        return {str(key): inner(part, key) for key, part in value.items()}
    if isinstance(value, (list, tuple)):
        return [inner(part, i) for i, part in enumerate(value)]
    if isinstance(value, (set, frozenset)):
        return sorted((inner(part, "item") for part in value), key=repr)
    if isinstance(value, functools.partial):
        parts = {"function": value.func, "arguments": value.args, "keywords": value.keywords}
        return {"partial": {key: inner(part, key) for key, part in parts.items()}}
    if isinstance(value, types.MethodType):
        return {"method": inner(value.__func__, "function"), "of": inner(value.__self__, "of")}
    if isinstance(value, types.FunctionType):
        return _function(value, inner)
    if isinstance(value, (type, types.ModuleType, types.BuiltinFunctionType, np.ufunc)):
        return f"{getattr(value, '__module__', '')}.{getattr(value, '__qualname__', value.__name__)}"
    return _object(value, name, inner)


def _array(array: np.ndarray) -> Any:
    if array.ndim == 0:
        return describe(array.item(), "")
    bits = hashlib.sha256(np.ascontiguousarray(array).tobytes()).hexdigest()
    return {"array": str(array.dtype), "shape": list(array.shape), "sha256": bits}


def _function(function: types.FunctionType, inner: Any) -> dict[str, Any]:
    found: dict[str, Any] = {"function": f"{function.__module__}.{function.__qualname__}"}
    if str(function.__module__).split(".")[0] == "lpgrelease":
        return found  # the record has the library's version and its files
    try:
        text = inspect.getsource(function).encode()
    except (OSError, TypeError):
        text = function.__code__.co_code + repr(function.__code__.co_consts).encode()
    found["sha256"] = hashlib.sha256(text).hexdigest()
    defaults = (function.__defaults__, function.__kwdefaults__)
    if any(defaults):
        found["defaults"] = inner(defaults, "defaults")
    if function.__closure__:
        cells = zip(function.__code__.co_freevars, function.__closure__, strict=True)
        found["closure"] = {key: inner(cell.cell_contents, key) for key, cell in cells}
    return found


def _object(value: Any, name: str, inner: Any) -> dict[str, Any]:
    try:
        reduced = value.__reduce_ex__(2)
    except Exception as error:
        raise InputError(f"{name}: a {type(value).__name__} cannot be recorded: {error}") from error
    if isinstance(reduced, str):
        return {"object": f"{type(value).__module__}.{reduced}"}
    maker, arguments, *rest = reduced
    found: dict[str, Any] = {"class": f"{type(value).__module__}.{type(value).__qualname__}"}
    if maker is not copyreg.__newobj__:  # type: ignore[attr-defined]
        found["maker"] = f"{maker.__module__}.{maker.__qualname__}"
    found["arguments"] = inner([part for part in arguments if part is not type(value)], "arguments")
    for key, part in zip(("state", "items", "pairs"), rest, strict=False):
        if part is not None:
            found[key] = inner(list(part) if isinstance(part, Iterator) else part, key)
    return found


def files_of_the_library() -> str:
    """Return a digest of this library's modules and tables: a version in work changes without its number."""
    root, digest = Path(lpgrelease.__file__).parent, hashlib.sha256()
    for file in sorted(root.rglob("*")):
        if file.suffix in {".py", ".csv", ".npz"}:
            digest.update(file.relative_to(root).as_posix().encode())
            digest.update(file.read_bytes())
    return digest.hexdigest()


def differences(stored: Any, asked: Any, path: str = "") -> list[str]:
    """Name every place where two descriptions differ, with both values."""
    if isinstance(stored, dict) and isinstance(asked, dict):
        keys = list(dict.fromkeys([*stored, *asked]))
        parts = [(f"{path}.{key}".lstrip("."), stored.get(key), asked.get(key)) for key in keys]
        return [line for key, one, two in parts for line in differences(one, two, key)]
    if _are_nested(stored) and _are_nested(asked) and len(stored) == len(asked):
        pairs = enumerate(zip(stored, asked, strict=True))
        return [line for i, (one, two) in pairs for line in differences(one, two, f"{path}[{i}]")]
    return [] if stored == asked else [f"{path}: {_short(stored)} stored, {_short(asked)} asked"]


def _are_nested(value: Any) -> bool:
    return isinstance(value, list) and any(isinstance(part, (dict, list)) for part in value)


def _short(value: Any, length: int = 60) -> str:
    text = "nothing" if value is None else str(value)
    return text if len(text) <= length else f"{text[:length]}..."
