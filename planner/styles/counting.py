"""How many choices of options there are where some cannot be had, counted without going through all of them."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from itertools import product
from math import prod

from planner.core.spec import Option

#: Choices gone through one by one, of details that hang together; beyond it nothing is counted.
MOST_TRIED = 20_000


@dataclass(frozen=True, slots=True)
class Ruled:
    """Choices that hold all of `needs` and none of `without`: these are the ones that cannot be had."""

    needs: frozenset[Option]
    without: frozenset[Option] = frozenset()

    @property
    def details(self) -> frozenset[str]:
        """The details one must look at to tell."""
        return frozenset(detail for detail, _ in self.needs | self.without)

    def holds(self, chosen: Iterable[Option]) -> bool:
        """Whether it is true of this choice."""
        options = frozenset(chosen)
        return self.needs <= options and not self.without & options


def count_choices(details: Mapping[str, tuple[str, ...]], out: Iterable[Ruled]) -> int | None:
    """How many ways there are to choose one option of each detail, without those that any of `out` holds.

    Details without options offer no choice. Only details that a rule ties together are gone through, so twelve
    details of five options cost no more than their rules. None where more than MOST_TRIED choices hang together.
    """
    offered = {name: options for name, options in details.items() if options}
    there = {(name, option) for name, options in offered.items() for option in options}
    rules = [Ruled(rule.needs, rule.without & there) for rule in set(out) if not _is_idle(rule, there)]
    if any(not rule.details for rule in rules):
        return 0
    total = 1
    for tied in _tied(list(offered), rules):
        here = [rule for rule in rules if rule.details & tied]
        ways = [[(name, option) for option in offered[name]] for name in offered if name in tied]
        if not here:
            total *= prod(len(way) for way in ways)
            continue
        if prod(len(way) for way in ways) > MOST_TRIED:
            return None
        total *= sum(not any(rule.holds(choice) for rule in here) for choice in product(*ways))
    return total


def _is_idle(rule: Ruled, offered: Collection[Option]) -> bool:
    """Whether it can hold of no choice: it needs what is not offered, or two options of one detail."""
    if any(option not in offered for option in rule.needs):
        return True
    return len({detail for detail, _ in rule.needs}) < len(rule.needs)


def _tied(details: list[str], rules: list[Ruled]) -> list[set[str]]:
    """The details in groups, those in one that a rule looks at together."""
    groups = [{name} for name in details]
    for rule in rules:
        meeting = [group for group in groups if group & rule.details]
        if meeting:
            groups = [group for group in groups if not group & rule.details]
            groups.append(set().union(*meeting))
    return groups
