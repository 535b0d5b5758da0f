"""A mapping whose values are worked out when they are asked for, each once. Pure."""

from collections.abc import Callable, Iterable, Iterator, Mapping


class Lazily[Key, Value](Mapping[Key, Value]):
    """`find` answers for a key, None for one that isn't there; `keys` names all that may be."""

    def __init__(self, keys: Callable[[], Iterable[Key]], find: Callable[[Key], Value | None]) -> None:
        self._keys, self._find = keys, find
        self._found: dict[Key, Value] = {}

    def __getitem__(self, key: Key) -> Value:
        """The value of a key."""
        known = self._found.get(key)
        if known is None:
            known = self._find(key)
            if known is None:
                raise KeyError(key)
            self._found[key] = known
        return known

    def __iter__(self) -> Iterator[Key]:
        """The keys that have a value."""
        return (key for key in self._keys() if key in self)

    def __len__(self) -> int:
        """How many have one."""
        return sum(1 for _ in self)
