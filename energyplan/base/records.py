"""Frozen records: the standard library's dataclasses, made without compiling source.

`dataclasses.dataclass` writes source for the methods of each class and compiles it, which takes a millisecond a class:
for a command of a hundred records a fifth of its time. The records here are dataclasses all the same: `fields`,
`replace` and `asdict` take them, and type checkers see nothing else.
"""

import dataclasses
from collections.abc import Callable
from operator import attrgetter
from typing import TYPE_CHECKING, Any, TypeVar

__all__ = ["dataclass"]

if TYPE_CHECKING:
    from dataclasses import dataclass
else:
    Class = TypeVar("Class", bound=type)

    def dataclass(cls: Any = None, /, *, frozen: bool = False, **how: Any) -> Any:
        """As `dataclasses.dataclass`; what is frozen gets methods that were compiled once for all.

        Examples
        --------
        >>> @dataclass(frozen=True, slots=True, kw_only=True)
        ... class Rest:
        ...     name: str
        ...     minutes: float = 60.0
        >>> dataclasses.replace(Rest(name="Mash"), minutes=30.0)
        Rest(name='Mash', minutes=30.0)
        """

        def made(given: type) -> type:
            if not frozen or how.get("order"):
                return dataclasses.dataclass(given, frozen=frozen, **how)
            return _frozen(given, how)

        return made if cls is None else made(cls)


def _frozen(given: type, how: dict[str, Any]) -> type:
    own, equal = set(vars(given)), how.get("eq", True)
    made: Any = dataclasses.dataclass(**{**how, "init": False, "repr": False, "eq": False})(given)
    fields = dataclasses.fields(made)
    methods: dict[str, Any] = {"__setattr__": _refuse_set, "__delattr__": _refuse_delete}
    if how.get("init", True):
        methods["__init__"] = _init_of(made, fields)
    methods["__repr__"] = _repr_of([field.name for field in fields if field.repr])
    if equal:
        values = _values_of([field.name for field in fields if field.compare])
        methods |= {"__eq__": _eq_of(values), "__hash__": lambda self: hash(values(self))}
    if how.get("slots"):
        methods |= {"__getstate__": _get_state, "__setstate__": _set_state}
    for name, method in methods.items():
        if name not in own:
            setattr(made, name, method)
    made.__dataclass_params__.frozen = True
    return made  # type: ignore[no-any-return]


def _init_of(made: type, fields: tuple[dataclasses.Field[Any], ...]) -> Callable[..., None]:
    """An initialiser: values by name, or by place where fields aren't keyword-only."""
    setters = {
        field.name: getattr(vars(made).get(field.name), "__set__", None) or _setter(field.name) for field in fields
    }
    places = tuple(field.name for field in fields if not field.kw_only)
    checks = hasattr(made, "__post_init__")
    blanks: dict[str, Any] = {field.name: field.default for field in fields}
    made_anew: dict[str, Callable[[], Any]] = {
        field.name: field.default_factory for field in fields if field.default_factory is not dataclasses.MISSING
    }

    def begin(self: Any, *args: Any, **values: Any) -> None:
        if args:
            values = _placed(made, places, args, values)
        if len(values) != len(setters):
            for name in setters.keys() - values.keys():
                values[name] = made_anew[name]() if name in made_anew else blanks[name]
                if values[name] is dataclasses.MISSING:
                    raise TypeError(f"{made.__name__}() needs {name}")
        try:
            for name, value in values.items():
                setters[name](self, value)
        except KeyError as unknown:
            raise TypeError(f"{made.__name__}() has no {unknown.args[0]}") from None
        if checks:
            self.__post_init__()

    return begin


def _placed(made: type, places: tuple[str, ...], args: tuple[Any, ...], values: dict[str, Any]) -> dict[str, Any]:
    """Values by name, of those given by place and those given by name."""
    if len(args) > len(places):
        raise TypeError(f"{made.__name__}() takes {len(places)} values by place, not {len(args)}")
    placed = dict(zip(places, args, strict=False))
    if twice := placed.keys() & values.keys():
        raise TypeError(f"{made.__name__}() has {', '.join(sorted(twice))} twice")
    return placed | values


def _setter(name: str) -> Callable[[Any, Any], None]:
    return lambda self, value: object.__setattr__(self, name, value)


_LONGEST = 80  # characters of a value within the line that shows a record


def _repr_of(names: list[str]) -> Callable[[Any], str]:
    def shown(self: Any) -> str:
        values = ", ".join(f"{name}={_in_short(getattr(self, name))}" for name in names)
        return f"{type(self).__qualname__}({values})"

    return shown


def _in_short(value: Any) -> str:
    """A value as Python writes it; in one line what would fill a screen."""
    if hasattr(value, "shape") and hasattr(value, "dtype"):
        return f"<array {value.shape}>"
    if isinstance(value, tuple | list | dict | frozenset) and len(value) > 3:
        return f"<{type(value).__name__} of {len(value)}>"
    shown = repr(value)
    if len(shown) <= _LONGEST and "\n" not in shown:
        return shown
    return f"{shown[:_LONGEST]}…'" if isinstance(value, str) else f"{type(value).__name__}(…)"


def _values_of(names: list[str]) -> Callable[[Any], tuple[Any, ...]]:
    if not names:
        return lambda _: ()
    get = attrgetter(*names)
    return get if len(names) > 1 else lambda self: (get(self),)


def _eq_of(values: Callable[[Any], tuple[Any, ...]]) -> Callable[[Any, object], bool]:
    def same(self: Any, other: object) -> bool:
        return values(self) == values(other) if type(other) is type(self) else NotImplemented

    return same


def _refuse_set(self: Any, name: str, value: Any) -> None:  # noqa: ARG001
    raise dataclasses.FrozenInstanceError(f"cannot assign to field {name!r}")


def _refuse_delete(self: Any, name: str) -> None:  # noqa: ARG001
    raise dataclasses.FrozenInstanceError(f"cannot delete field {name!r}")


def _get_state(self: Any) -> list[Any]:
    return [getattr(self, field.name) for field in dataclasses.fields(self)]


def _set_state(self: Any, state: list[Any]) -> None:
    for field, value in zip(dataclasses.fields(self), state, strict=True):
        object.__setattr__(self, field.name, value)
