"""Choosing a charge: which boards of which lots, as a small integer programme.

Pure: stacks of boards, limits and a wish go in; a proposal with its reasons comes out. It is no
``@calculation``, because its inputs are things of the store and not quantities; the reasons are
its working.

Law: what is proposed never exceeds a cap, never draws on a lot outside the moisture limits, and
takes whole boards or pieces that exist, so that nothing has to be cut. Within that, in this order:

1. within a product no newer lot is opened while an older one has boards left;
2. the energy is as near the target as whole boards allow, anything within ``NEAR`` being near
   enough;
3. over all products the oldest lots come first;
4. the fewest lots; 5. the nearest energy; 6. the fewest boards; 7. the first in the list.

Energies and masses enter as whole tenths and hundredths, those of boards rounded up and caps
rounded down: a sum never hides an excess, and all that is compared is integers. Steps are joined
into one objective with weights: a step weighs one more than all that the steps after it can add
up to, so one unit of it outweighs them whole (``_joined``). Groups of steps, where the weights
would grow past what the solver can tell apart, are solved one after another, each with those
before it held at their best.
"""

from __future__ import annotations

import datetime as dt
import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

ENERGY, DRY_MASS = "energy", "dry_mass"
PARTS = {ENERGY: 10, DRY_MASS: 100}  # tenths of a MJ, hundredths of a kg
UNITS = {ENERGY: "MJ", DRY_MASS: "kg"}
NEAR = 0.05  # of the target counts as near enough: our choice, no source
NOISE = 1e-6  # of a part: the last bits of a product are no board


def gettext_noop(text: str) -> str:
    """Mark a text to be translated where it is shown."""
    return text


@dataclass(frozen=True, slots=True)
class Stack:
    """Boards of one lot that may be drawn on; mass [kg] and energy [MJ] are those of one board."""

    key: str
    code: str
    product: str
    delivered: dt.date
    available: int
    dry_mass: float
    energy: float
    moisture: float  # percent of dry mass


@dataclass(frozen=True, slots=True)
class Cap:
    """An upper limit on the whole charge, ``ENERGY`` [MJ] or ``DRY_MASS`` [kg], with its clause."""

    what: str
    limit: float
    clause: str


@dataclass(frozen=True, slots=True)
class MoistureLimit:
    """A bound on the moisture of every lot [% of dry mass]; None where there is none."""

    low: float | None
    high: float | None
    clause: str


@dataclass(frozen=True, slots=True)
class Limits:
    """What the whole charge may not exceed, and what kindling and the like take of it already:
    ``beside`` holds their energy [MJ] and dry mass [kg]."""

    caps: tuple[Cap, ...] = ()
    moisture: tuple[MoistureLimit, ...] = ()
    beside: Mapping[str, float] = field(default_factory=dict)

    def room(self) -> tuple[Cap, ...]:
        """The caps that are left for boards."""
        return tuple(
            replace(cap, limit=cap.limit - self.beside.get(cap.what, 0.0)) for cap in self.caps
        )


@dataclass(frozen=True, slots=True)
class Wish:
    """The energy wanted of the charge [MJ], its boards at least and its lots at most."""

    target: float
    least_boards: int = 1
    most_lots: int = 12


@dataclass(frozen=True, slots=True)
class Amount:
    """A number of a reason, written in the reader's units where it is shown."""

    number: float
    unit: str


Value = str | int | Amount


@dataclass(frozen=True, slots=True)
class Reason:
    """One sentence of why, to be translated and filled where it is shown."""

    text: str
    values: Mapping[str, Value] = field(default_factory=dict)


class NoCharge(ValueError):
    """No choice of boards is possible; ``reasons`` say what stands in the way, the first above
    all."""

    def __init__(self, *reasons: Reason) -> None:
        self.reasons = reasons
        super().__init__("; ".join(reason.text.format(**reason.values) for reason in reasons))


@dataclass(frozen=True, slots=True)
class Taken:
    """Whole boards of one stack."""

    stack: Stack
    count: int


@dataclass(frozen=True, slots=True)
class Proposal:
    """The boards, oldest lot first, what they hold, and why these."""

    taken: tuple[Taken, ...]
    reasons: tuple[Reason, ...]

    @property
    def boards(self) -> int:
        return sum(each.count for each in self.taken)

    @property
    def energy(self) -> float:
        return math.fsum(each.count * each.stack.energy for each in self.taken)

    @property
    def dry_mass(self) -> float:
        return math.fsum(each.count * each.stack.dry_mass for each in self.taken)


def parts_up(value: float, what: str) -> int:
    return math.ceil(value * PARTS[what] - NOISE)


def parts_down(value: float, what: str) -> int:
    return math.floor(value * PARTS[what] + NOISE)


def held(stack: Stack, what: str) -> float:
    """What one board holds of what a cap limits."""
    return stack.energy if what == ENERGY else stack.dry_mass


def in_order(stacks: Sequence[Stack]) -> list[Stack]:
    """The oldest first; the order of the programme, so that its answer does not depend on the
    order of what was handed in."""
    return sorted(stacks, key=lambda each: (each.delivered, each.code, each.key))


def propose(stacks: Sequence[Stack], limits: Limits, wish: Wish) -> Proposal:
    """Choose boards for a target energy under the caps.

    Raises
    ------
    NoCharge
        when the target is none, over a cap, or no choice meets the limits with what is there.
    """
    _check_wish(wish, limits)
    caps = limits.room()
    boards = replace(wish, target=wish.target - limits.beside.get(ENERGY, 0.0))
    dry, left_out = _sorted_out(in_order(stacks), limits.moisture)
    fitting = [stack for stack in dry if stack.available > 0]
    _check_possible(fitting, left_out, caps, wish)
    counts = _solve(fitting, caps, boards)
    if counts is None:
        raise NoCharge(
            Reason(
                gettext_noop(
                    "No choice of whole boards keeps all the caps with {least} boards from at "
                    "most {lots} lots."
                ),
                {"least": wish.least_boards, "lots": wish.most_lots},
            ),
            *left_out,
        )
    taken = tuple(Taken(each, n) for each, n in zip(fitting, counts, strict=True) if n)
    return Proposal(taken, (*_why(taken, fitting, limits, wish), *left_out))


# -- what stands in the way ---------------------------------------------------------------


def _check_wish(wish: Wish, limits: Limits) -> None:
    if not math.isfinite(wish.target) or wish.target <= 0:
        raise NoCharge(
            Reason(
                gettext_noop("A target of {target} was given; more than 0 MJ is needed."),
                {"target": Amount(wish.target, "MJ")},
            )
        )
    for cap in limits.caps:
        if cap.what == ENERGY and wish.target > cap.limit:
            raise NoCharge(
                Reason(
                    gettext_noop(
                        "A target of {target} was given; at most {cap} is allowed: {clause}."
                    ),
                    {
                        "target": Amount(wish.target, "MJ"),
                        "cap": Amount(cap.limit, "MJ"),
                        "clause": cap.clause,
                    },
                )
            )
    beside = limits.beside.get(ENERGY, 0.0)
    if beside >= wish.target:
        raise NoCharge(
            Reason(
                gettext_noop(
                    "The other fuel of the plan holds {beside} already; the target is {target}, "
                    "and nothing is left for boards."
                ),
                {"beside": Amount(beside, "MJ"), "target": Amount(wish.target, "MJ")},
            )
        )


def _sorted_out(
    stacks: Sequence[Stack], limits: Sequence[MoistureLimit]
) -> tuple[list[Stack], list[Reason]]:
    """The stacks within the moisture limits, and why the others are not."""
    dry, reasons = [], []
    for stack in stacks:
        reason = next(filter(None, (_too_moist(stack, limit) for limit in limits)), None)
        if reason is None:
            dry.append(stack)
        else:
            reasons.append(reason)
    return dry, reasons


def _too_moist(stack: Stack, limit: MoistureLimit) -> Reason | None:
    values: dict[str, Value] = {
        "lot": stack.code,
        "moisture": Amount(stack.moisture, "%"),
        "clause": limit.clause,
    }
    if limit.high is not None and round(stack.moisture - limit.high, 6) > 0:
        return Reason(
            gettext_noop(
                "Lot {lot} is left out at {moisture}; at most {limit} is allowed: {clause}."
            ),
            values | {"limit": Amount(limit.high, "%")},
        )
    if limit.low is not None and round(limit.low - stack.moisture, 6) > 0:
        return Reason(
            gettext_noop(
                "Lot {lot} is left out at {moisture}; at least {limit} is needed: {clause}."
            ),
            values | {"limit": Amount(limit.low, "%")},
        )
    return None


def _check_possible(
    stacks: Sequence[Stack], left_out: Sequence[Reason], caps: Sequence[Cap], wish: Wish
) -> None:
    """Refuse, by name, what the stock or one cap alone rules out."""
    if not stacks:
        raise NoCharge(Reason(gettext_noop("No accepted, dry lot has boards free.")), *left_out)
    reachable = sorted((stack.available for stack in stacks), reverse=True)[: wish.most_lots]
    if sum(reachable) < wish.least_boards:
        raise NoCharge(
            Reason(
                gettext_noop("Boards needed: {least}; free in {lots} lots: {there}."),
                {
                    "least": wish.least_boards,
                    "there": sum(reachable),
                    "lots": len(reachable),
                },
            ),
            *left_out,
        )
    for cap in caps:
        lightest = _least_sum(stacks, cap.what, wish.least_boards)
        if lightest > parts_down(cap.limit, cap.what):
            unit = UNITS[cap.what]
            raise NoCharge(
                Reason(
                    gettext_noop(
                        "Boards needed: {least}. The lightest hold {held}, and at most {cap} is left "
                        "for boards: {clause}."
                    ),
                    {
                        "least": wish.least_boards,
                        "held": Amount(lightest / PARTS[cap.what], unit),
                        "cap": Amount(max(cap.limit, 0.0), unit),
                        "clause": cap.clause,
                    },
                ),
                *left_out,
            )


def _least_sum(stacks: Sequence[Stack], what: str, boards: int) -> int:
    """The least that so many boards can hold."""
    total, wanted = 0, boards
    for each, available in sorted((parts_up(held(s, what), what), s.available) for s in stacks):
        taken = min(wanted, available)
        total, wanted = total + taken * each, wanted - taken
    return total


# -- the programme ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Sums:
    """The integers that the programme compares, and bounds on what they can add up to."""

    energies: tuple[int, ...]
    target: int
    near: int
    ranks: tuple[int, ...]  # how many delivery days are older, by stack
    most_boards: int
    farthest: int  # from the target


def sums_of(
    stacks: Sequence[Stack], caps: Sequence[Cap], wish: Wish, days: Sequence[dt.date]
) -> Sums:
    energies = tuple(parts_up(stack.energy, ENERGY) for stack in stacks)
    target = round(wish.target * PARTS[ENERGY])
    whole = sum(e * stack.available for e, stack in zip(energies, stacks, strict=True))
    return Sums(
        energies=energies,
        target=target,
        near=math.floor(NEAR * wish.target * PARTS[ENERGY]),
        ranks=tuple(days.index(stack.delivered) for stack in stacks),
        most_boards=most_boards(stacks, caps),
        farthest=max(target, whole - target),
    )


def delivery_days(stacks: Sequence[Stack]) -> list[dt.date]:
    return sorted({stack.delivered for stack in stacks})


def most_boards(stacks: Sequence[Stack], caps: Sequence[Cap]) -> int:
    """No charge can have more boards than this: the stock, or the lightest boards under a cap."""
    most = sum(stack.available for stack in stacks)
    for cap in caps:
        lightest = min(parts_up(held(stack, cap.what), cap.what) for stack in stacks)
        if lightest > 0:
            most = min(most, max(parts_down(cap.limit, cap.what) // lightest, 0))
    return most


def _solve(stacks: Sequence[Stack], caps: Sequence[Cap], wish: Wish) -> list[int] | None:
    """Boards of each stack, or None when nothing meets the constraints.

    First without passing over any older lot: then only the oldest lots of each product can be
    reached, and the programme is small. That is also the best the first step can be, so the whole
    programme is asked only where it is not possible.
    """
    days = delivery_days(stacks)
    within_reach = _reachable(stacks, most_boards(stacks, caps))
    counts = _programme(within_reach, caps, wish, days, passing_over=False)
    if counts is None:
        return _programme(stacks, caps, wish, days, passing_over=True)
    by_key = {stack.key: n for stack, n in zip(within_reach, counts, strict=True)}
    return [by_key.get(stack.key, 0) for stack in stacks]


def _reachable(stacks: Sequence[Stack], most: int) -> list[Stack]:
    """The stacks that a charge of so many boards can open when it empties older ones first."""
    older: dict[str, int] = {}
    kept = []
    for stack in stacks:
        if older.get(stack.product, 0) < most:
            kept.append(stack)
        older[stack.product] = older.get(stack.product, 0) + stack.available
    return kept


def _programme(
    stacks: Sequence[Stack], caps: Sequence[Cap], wish: Wish, days: Sequence[dt.date], *,
    passing_over: bool,
) -> list[int] | None:  # fmt: skip
    """Solve for whole boards.

    Variables, in blocks of one a stack: boards taken; whether any; whether this and every older
    stack of the product is emptied; whether it is opened over an older one. Then the distance
    from the target, and what of it is more than near.
    """
    from scipy.optimize import LinearConstraint, milp  # slow to import

    n = len(stacks)
    sums = sums_of(stacks, caps, wish, days)
    rows, low, high = _constraints(stacks, caps, wish, sums)
    available = [stack.available for stack in stacks]
    upper = np.array(
        [*available, *[1] * 2 * n, *[int(passing_over)] * n, sums.farthest, sums.farthest]
    )
    solved = None
    for objective in _objectives(n, sums, wish, passing_over=passing_over):
        solved = milp(
            objective,
            integrality=np.ones(4 * n + 2),
            bounds=(0, upper),
            constraints=LinearConstraint(np.array(rows), low, high),
            options={"mip_rel_gap": 0},
        )
        if solved.x is None:
            return None
        rows.append(objective)
        low.append(-np.inf)
        high.append(float(round(solved.fun)))
    assert solved is not None
    return [round(count) for count in solved.x[:n]]


@dataclass(frozen=True, slots=True)
class Step:
    """Something to make as small as can be, and the most it can come to."""

    row: np.ndarray
    most: int


def _joined(*steps: Step) -> np.ndarray:
    """One objective for several steps, the first before all.

    Every step takes whole values from 0 to its ``most``. A step's weight is one more than the
    most that the weighted steps after it can come to: to gain one unit of it is worth more than
    anything the later ones can lose. So the least joined value has the least first step, under
    that the least second one, and so on.
    """
    joined, after = np.zeros_like(steps[-1].row), 0
    for step in reversed(steps):
        weight = after + 1
        joined = joined + weight * step.row
        after += weight * step.most
    return joined


def _objectives(n: int, sums: Sums, wish: Wish, *, passing_over: bool) -> list[np.ndarray]:
    """The steps of the head of this file, in the groups in which they are solved."""

    def step(
        most: int, block: Sequence[float] = (), at: int = 0, *, ends: tuple[int, int] = (0, 0)
    ) -> Step:
        row = np.zeros(4 * n + 2)
        row[at : at + len(block)] = block
        row[-2:] = ends
        return Step(row, most)

    boards, lots = sums.most_boards, min(n, wish.most_lots)
    passed = step(n, [1] * n, 3 * n)
    beyond = step(sums.farthest, ends=(0, 1))
    late = step(max(sums.ranks) * boards, sums.ranks)
    return [
        _joined(*([passed, beyond] if passing_over else [beyond])),
        _joined(late, step(lots, [1] * n, n)),
        _joined(step(sums.farthest, ends=(1, 0))),
        _joined(step(boards, [1] * n), step((n - 1) * boards, range(n))),
    ]


def _constraints(
    stacks: Sequence[Stack], caps: Sequence[Cap], wish: Wish, sums: Sums
) -> tuple[list[np.ndarray], list[float], list[float]]:
    """Rows with their lower and upper bounds."""
    n = len(stacks)
    rows: list[np.ndarray] = []
    low: list[float] = []
    high: list[float] = []

    def add(entries: Mapping[int, float], least: float, most: float) -> None:
        row = np.zeros(4 * n + 2)
        for column, value in entries.items():
            row[column] = value
        rows.append(row)
        low.append(least)
        high.append(most)

    distance, beyond = 4 * n, 4 * n + 1
    energy = dict(enumerate(sums.energies))
    add(dict.fromkeys(range(n), 1), wish.least_boards, np.inf)
    add(dict.fromkeys(range(n, 2 * n), 1), 0, wish.most_lots)
    for cap in caps:
        each = {i: parts_up(held(stack, cap.what), cap.what) for i, stack in enumerate(stacks)}
        add(each, -np.inf, parts_down(cap.limit, cap.what))
    add({**energy, distance: -1}, -np.inf, sums.target)
    add({**energy, distance: 1}, sums.target, np.inf)
    add({distance: 1, beyond: -1}, -np.inf, sums.near)
    older: dict[str, int] = {}
    for i, stack in enumerate(stacks):
        taken, opened, emptied, over = i, n + i, 2 * n + i, 3 * n + i
        add({taken: 1, opened: -stack.available}, -np.inf, 0)
        add({taken: 1, opened: -1}, 0, np.inf)
        add({emptied: stack.available, taken: -1}, -np.inf, 0)
        before = older.get(stack.product)
        if before is not None:
            add({emptied: 1, before: -1}, -np.inf, 0)
            add({opened: 1, before: -1, over: -1}, -np.inf, 0)
        older[stack.product] = emptied
    return rows, low, high


# -- why these ----------------------------------------------------------------------------


def _why(
    taken: Sequence[Taken], fitting: Sequence[Stack], limits: Limits, wish: Wish
) -> list[Reason]:
    boards = math.fsum(each.count * each.stack.energy for each in taken)
    energy = boards + limits.beside.get(ENERGY, 0.0)
    return [
        _against_target(taken, energy, fitting, wish),
        *_lots(taken, fitting),
        *_tightest(taken, limits),
        *_cutting(taken, fitting, energy, limits, wish),
    ]


def _against_target(
    taken: Sequence[Taken], energy: float, fitting: Sequence[Stack], wish: Wish
) -> Reason:
    boards = sum(each.count for each in taken)
    values: dict[str, Value] = {
        "boards": boards,
        "lots": len(taken),
        "energy": Amount(energy, "MJ"),
        "target": Amount(wish.target, "MJ"),
        "off": Amount(abs(energy - wish.target), "MJ"),
    }
    all_of_it = boards == sum(stack.available for stack in fitting)
    if all_of_it and energy < wish.target:
        text = gettext_noop(
            "All {boards} boards that are free and dry: the charge has {energy}, {off} under the "
            "target of {target}."
        )
    elif energy > wish.target:
        text = gettext_noop(
            "Boards: {boards}. The charge has {energy}, {off} over the target of {target}."
        )
    else:
        text = gettext_noop(
            "Boards: {boards}. The charge has {energy}, {off} under the target of {target}."
        )
    return Reason(text, values)


def _lots(taken: Sequence[Taken], fitting: Sequence[Stack]) -> list[Reason]:
    """Why each lot, product by product."""
    counts = {each.stack.key: each.count for each in taken}
    reasons = []
    for product in dict.fromkeys(each.stack.product for each in taken):
        kin = [stack for stack in fitting if stack.product == product]
        for place, stack in enumerate(kin):
            if stack.key not in counts:
                continue
            passed = [other for other in kin[:place] if counts.get(other.key, 0) < other.available]
            reasons.append(
                _of_lot(stack, counts[stack.key], kin, passed[0] if passed else None, place)
            )
    return reasons


def _of_lot(
    stack: Stack, count: int, kin: Sequence[Stack], passed: Stack | None, place: int
) -> Reason:
    values: dict[str, Value] = {
        "lot": stack.code,
        "count": count,
        "product": stack.product,
        "dry": len(kin),
    }
    if passed is not None:
        text = gettext_noop(
            "Lot {lot}, {count}: its boards fit where those of the older lot {older} do not."
        )
        return Reason(text, values | {"older": passed.code})
    if place:
        text = gettext_noop("Lot {lot}, {count}: the next oldest, lot {older} is used up.")
        return Reason(text, values | {"older": kin[place - 1].code})
    if len(kin) > 1:
        text = gettext_noop("Lot {lot} first, {count}: the oldest of {dry} dry lots of {product}.")
    else:
        text = gettext_noop("Lot {lot}, {count}: the only dry lot of {product}.")
    return Reason(text, values)


def _tightest(taken: Sequence[Taken], limits: Limits) -> list[Reason]:
    """The cap that leaves least, where there is one."""
    used = {
        what: limits.beside.get(what, 0.0)
        + math.fsum(each.count * held(each.stack, what) for each in taken)
        for what in PARTS
    }
    binding = [cap for cap in limits.caps if cap.limit > 0]
    if not binding:
        return []
    cap = max(binding, key=lambda each: used[each.what] / each.limit)
    unit = UNITS[cap.what]
    return [
        Reason(
            gettext_noop("The tightest cap leaves {left} of {cap}: {clause}."),
            {
                "left": Amount(max(cap.limit - used[cap.what], 0.0), unit),
                "cap": Amount(cap.limit, unit),
                "clause": cap.clause,
            },
        )
    ]


def _cutting(
    taken: Sequence[Taken], fitting: Sequence[Stack], energy: float, limits: Limits, wish: Wish
) -> list[Reason]:
    """That nothing has to be cut; and where one cut would come nearer, of what."""
    nothing = Reason(gettext_noop("Whole boards and pieces as they lie; nothing has to be cut."))
    gap = wish.target - energy
    if gap <= NEAR * wish.target:
        return [nothing]
    counts = {each.stack.key: each.count for each in taken}
    for stack in fitting:
        share = gap / stack.energy
        free = counts.get(stack.key, 0) < stack.available
        if free and share < 1 and _has_room(stack, share, taken, limits.room()):
            text = gettext_noop(
                "Whole boards come no nearer; one board of lot {lot} cut to {share} would close "
                "the gap of {gap}."
            )
            values: dict[str, Value] = {
                "lot": stack.code,
                "share": Amount(100 * share, "%"),
                "gap": Amount(gap, "MJ"),
            }
            return [Reason(text, values)]
    return [nothing]


def _has_room(stack: Stack, share: float, taken: Sequence[Taken], caps: Sequence[Cap]) -> bool:
    return all(
        math.fsum(
            itertools.chain(
                (each.count * held(each.stack, cap.what) for each in taken),
                (share * held(stack, cap.what),),
            )
        )
        <= cap.limit
        for cap in caps
    )
