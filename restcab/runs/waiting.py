"""Tasks that nobody has begun, given out so that a worker goes on where it knows its way."""

from collections import deque
from collections.abc import Collection, Hashable, Sequence


class Waiting:
    """Tasks by their numbers, in groups that have something in common.

    A worker that has done one task of a group has much of the next one at hand; two workers at
    the same group would each make the same things. So a worker stays with its group, then takes
    one that nobody is at, and only when there is none joins others, at the far end of theirs.

    Parameters
    ----------
    count
        Number of tasks.
    groups
        Of each task, what it has in common with others; by default nothing.
    """

    def __init__(self, count: int, groups: Sequence[Hashable] | None = None) -> None:
        self._group_of = range(count) if groups is None else groups
        self._left: dict[Hashable, deque[int]] = {}
        for index, group in enumerate(self._group_of):
            self._left.setdefault(group, deque()).append(index)

    def __bool__(self) -> bool:
        return bool(self._left)

    def take(self, last: int | None, others: Collection[int]) -> int:
        """Give out a task.

        Parameters
        ----------
        last
            What the worker did last; None: nothing yet.
        others
            What the others are at.

        Raises
        ------
        IndexError
            If none is left.
        """
        own = None if last is None else self._group_of[last]
        if last is not None and own in self._left:
            return self._from(own, at_front=True)
        taken = {self._group_of[index] for index in others}
        for group in self._left:
            if group not in taken:
                return self._from(group, at_front=True)
        if not self._left:
            raise IndexError("no task is left")
        longest = max(self._left, key=lambda group: len(self._left[group]))
        return self._from(longest, at_front=False)

    def put_back(self, index: int) -> None:
        """Take a task back, to be given out before the others of its group."""
        self._left.setdefault(self._group_of[index], deque()).appendleft(index)

    def _from(self, group: Hashable, at_front: bool) -> int:
        left = self._left[group]
        index = left.popleft() if at_front else left.pop()
        if not left:
            del self._left[group]
        return index
