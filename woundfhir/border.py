"""The border of the Python interface: every public function passes it on its way to a caller.

What has the wrong type is refused before it is used, by the function's own annotations; whatever then goes wrong comes
out as an error of ours, alone: without the exception of a library behind it and without the frames below it, since
both may hold values of a client.
"""

from __future__ import annotations

import inspect
import re
import sys
import types
import typing
from collections.abc import Callable, Generator, Iterator, Mapping
from contextvars import Context, copy_context
from functools import wraps
from pathlib import Path
from typing import Any, Literal, ParamSpec, TypeGuard, TypeVar, Union, get_args, get_origin

from woundfhir._version import __version__
from woundfhir.errors import Fault, InputError, WoundfhirError, escaped
from woundfhir.limits import JSON_DEPTH

P = ParamSpec("P")
R = TypeVar("R")
_PACKAGE = Path(__file__).parent
#: A text that can be the name of a file, and so may stand in a message.
_FILE_NAME = re.compile(r"[^\r\n\t{}<>\"|*?]{0,200}\.[A-Za-z0-9]{1,8}")


def fault_at(error: BaseException) -> str:
    """Say that an exception is a fault of ours: its kind and the line of our code, and nothing of its own words.

    Examples
    --------
    >>> fault_at(ValueError("somebody's value")).startswith("a fault of ours: ValueError (no line of ours; version ")
    True
    """
    found, trace = "no line of ours", error.__traceback__
    while trace is not None:
        path = Path(trace.tb_frame.f_code.co_filename)
        if path.is_relative_to(_PACKAGE) and path != Path(__file__):
            found = f"{path.relative_to(_PACKAGE)}, line {trace.tb_lineno}"
        trace = trace.tb_next
    return f"a fault of ours: {type(error).__name__} ({found}; version {__version__})"


def guarded(function: Callable[P, R], name: str = "") -> Callable[P, R]:
    """Return a public function behind the border.

    Parameters
    ----------
    function
        Any function or class method with annotations. A generator is guarded at each of its steps.
    name
        What callers know it by; without it, its own name.

    Returns
    -------
    callable
        It raises errors of ours only, and ``TypeError`` for a missing argument or a misspelt name of one, as any Python
        function does. ``KeyboardInterrupt`` and ``MemoryError`` pass.

    Examples
    --------
    >>> def half(number: int) -> float:
    ...     return number / 2
    >>> guarded(half)("Tremblay")
    Traceback (most recent call last):
    ...
    woundfhir.errors.InputError: half, number: it is of type str; expected int. See help(woundfhir.half)
    """
    called = name or function.__name__
    signature = inspect.signature(function)
    hints: dict[str, Any] = {}

    @wraps(function)
    def call(*args: P.args, **kwargs: P.kwargs) -> R:
        given: Mapping[str, Any] | None = None
        try:
            given = signature.bind(*args, **kwargs).arguments
            if not hints:
                hints.update(_hints(function, signature))
            _refuse_wrong(called, given, hints)
            result = function(*args, **kwargs)
            if inspect.isgenerator(result):
                return _steps(result, called, given, copy_context())  # type: ignore[arg-type, return-value]
            return result
        except Exception as error:
            failed = TypeError(f"{called}(): {error}") if given is None else _alone(error, called, given)
        del args, kwargs, given  # what a program logs of this frame holds no value
        raise failed

    return call


def _steps(result: Generator[Any, None, None], called: str, given: Mapping[str, Any], held: Context) -> Iterator[Any]:
    """Yield what a generator yields, each step in the context of the call: the site and the maps that held there."""
    try:
        while True:
            try:
                item = held.run(next, result)
            except StopIteration:
                return
            except Exception as error:
                failed = _alone(error, called, given)
                break
            yield item
    finally:
        held.run(result.close)
    del result, given
    raise failed


# -- what went wrong -------------------------------------------------------------------------------


def _alone(error: Exception, called: str, given: Mapping[str, Any]) -> Exception:
    """Return the error that comes out: ours, with nothing behind it."""
    if isinstance(error, InputError):
        out: Exception = error
        _unname(error, given)
    elif isinstance(error, WoundfhirError | MemoryError):
        out = error
    elif isinstance(error, RecursionError):
        out = InputError(called, f"at most {JSON_DEPTH} levels", "Take out the objects and lists inside each other")
    elif isinstance(error, OSError):
        wrong = f"the system says: {error.strerror or type(error).__name__}"
        out = InputError(called, "a file that can be read and written", "Look at the file, then again", found=wrong)
    elif wrong := _unsound(given):
        out = InputError(f"{called}, {wrong}", "a record in its canonical form", "Make it with woundfhir.History.of")
    else:
        out = Fault(fault_at(error))
    out.__cause__ = out.__context__ = None
    return out.with_traceback(None)


def _unname(error: InputError, given: Mapping[str, Any]) -> None:
    """Take texts that a caller gave out of the place of an error, unless they can be names of files."""
    for name, value in given.items():
        for text in _texts(value):
            if len(text) > 3 and not _FILE_NAME.fullmatch(text):
                error.where = error.where.replace(escaped(text), f"'{name}'").replace(text, f"'{name}'")
    error.args = (error.where, error.expected, error.fix)


def _texts(value: Any) -> Iterator[str]:
    """Yield the texts of an option: itself, the items of a list, the keys of a mapping from text to text."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, list | tuple) or (isinstance(value, Mapping) and all(map(_is_text, value.values()))):
        yield from filter(_is_text, value)


def _is_text(value: object) -> TypeGuard[str]:
    return isinstance(value, str)


def _unsound(given: Mapping[str, Any]) -> str:
    """Return the name of an argument that is not a sound record (made or changed by hand); "" where all are."""
    for name, value in given.items():
        make = getattr(type(value), "is_canonical", None)
        if make is not None and not make(value):
            return name
    return ""


# -- types -----------------------------------------------------------------------------------------


def _hints(function: Callable[..., Any], signature: inspect.Signature) -> dict[str, Any]:
    """Return the type of each parameter; one that only a type checker can resolve admits everything."""
    space = {**vars(typing), **vars(sys.modules[function.__module__])}
    found: dict[str, Any] = {}
    for name, parameter in signature.parameters.items():
        hint = parameter.annotation
        if isinstance(hint, str):
            try:
                hint = eval(hint, space)  # our own annotation, as typing.get_type_hints does it
            except NameError:
                hint = Any
        found[name] = Any if hint is inspect.Parameter.empty else hint
    return found


def _refuse_wrong(called: str, given: Mapping[str, Any], hints: Mapping[str, Any]) -> None:
    for name, value in given.items():
        if not _fits(value, hints[name]):
            raise InputError(
                f"{called}, {name}",
                _words(hints[name]),
                f"See help(woundfhir.{called})",
                found="it is another word" if isinstance(value, str) and _asks_word(hints[name]) else _kind(value),
            )
        if getattr(value, "elsewhere", False) is True:
            expected = "a history whose site holds here"
            raise InputError(f"{called}, {name}", expected, "Call it inside `with woundfhir.Site(...)`, as it was made")


def _asks_word(hint: Any) -> bool:
    return get_origin(hint) is Literal or any(_asks_word(one) for one in get_args(hint) if not isinstance(one, str))


def _kind(value: Any) -> str:
    if value is None:
        return "it is None"
    inside = ", or holds one of a wrong type" if isinstance(value, list | tuple | Mapping) else ""
    return f"it is of type {type(value).__name__}{inside}"


def _words(hint: Any) -> str:
    """Say a type to a person.

    Examples
    --------
    >>> _words(Literal["a", "b"] | None), _words(Mapping[str, int])
    ("one of 'a', 'b', or None", 'Mapping[str, int]')
    """
    origin, inner = get_origin(hint), get_args(hint)
    if hint is None or hint is type(None):
        return "None"
    if origin in (Union, types.UnionType):
        return ", or ".join(dict.fromkeys(_words(one) for one in inner))
    if origin is Literal:
        return "one of " + ", ".join(map(repr, inner))
    name = getattr(origin or hint, "__name__", str(hint))
    return f"{name}[{', '.join(map(_words, inner))}]" if inner else name


def _fits(value: Any, hint: Any) -> bool:
    origin, inner = get_origin(hint), get_args(hint)
    if hint is Any or isinstance(hint, TypeVar | str):
        return True
    if hint is None or hint is type(None):
        return value is None
    if origin in (Union, types.UnionType):
        return any(_fits(value, one) for one in inner)
    if origin is Literal:
        return any(type(value) is type(one) and value == one for one in inner)
    if origin is typing.IO or hint in (typing.IO, typing.BinaryIO, typing.TextIO):
        return hasattr(value, "read")
    if hint is int:
        return isinstance(value, int) and not isinstance(value, bool)
    if origin is None:
        return isinstance(value, hint) if isinstance(hint, type) else True
    return _fits_box(value, origin, inner)


def _fits_box(value: Any, origin: Any, inner: tuple[Any, ...]) -> bool:
    if isinstance(value, str | bytes | bytearray | memoryview) or not isinstance(value, origin):
        return False  # a text is a list of texts to Python, and never what is meant
    if isinstance(value, Mapping):
        return len(inner) != 2 or all(_fits(k, inner[0]) and _fits(v, inner[1]) for k, v in value.items())
    if inner and isinstance(value, list | tuple | set | frozenset):
        return all(_fits(one, inner[0]) for one in value)
    return True
