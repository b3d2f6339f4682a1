"""The counterbalance: for telling what is wrong with it, never for winding it.

Springs, cables, drums and bottom brackets are under tension and are work for a door technician. Nothing
here says how to adjust one.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Annotated, Any, NamedTuple

from .drive import DIAMETER
from .registry import FormulaError, Input, Output, formula, shown

JOULES_PER_INCH_POUND = 0.112984829

WIRE = Input("in", "Wire diameter", least=0.02, most=1)
MEAN = Input("in", "Mean coil diameter, inside plus one wire", least=0.1, most=20)
COILS = Input("count", "Active coils", least=1, most=1000)
MODULUS = Input("psi", "Elastic modulus of the wire", least=1e6, most=4e7)
RATE = Input("in*lbf/turn", "Spring rate, all springs together", least=0.1, most=5000)
TURNS = Input("turns", "Turns on the spring, from the door's label or record", least=0.5, most=60)
DOOR_WEIGHT = Input("lb", "Door weight", least=10, most=10_000)
HEIGHT = Input("in", "Door height", least=12, most=600)

_STOP = (
    "For diagnosis only. A wound spring can maim or kill: what it says is to be acted on by a door "
    "technician. It gives no winding instructions."
)


class DoorBalance(NamedTuple):
    worst: Annotated[float, Output("lbf", "Worst out of balance: plus heavy, minus light")]
    worst_height: Annotated[float, Output("in", "Height of it")]
    friction: Annotated[float, Output("lbf", "Friction, mean")]
    trend: Annotated[float, Output("lbf/ft", "Change of balance with height")]
    share: Annotated[float | str, Output("percent", "Worst as a share of what the operator can hold")]
    verdict: Annotated[str, Output("", "stays put, falls, rises, or falls and rises")]


def _balance_working(values: Mapping[str, Any]) -> str:
    worst = values["worst"]
    share = ""
    if not isinstance(values["share"], str):
        share = f", {shown(values['share'], 2)} % of what the operator can hold"
    return (
        f"{'heavy' if worst >= 0 else 'light'} by {shown(abs(worst), 3)} lbf at "
        f"{shown(values['worst_height'])} in{share}; friction {shown(values['friction'], 3)} lbf; "
        f"{values['verdict']}"
    )


@formula(
    title="Balance and friction of a door from hand pulls",
    working=_balance_working,
    source=(
        "Statics with dry friction: up = balance + friction, down = balance - friction; it drifts where the "
        "balance exceeds the friction. No US limit was found; EN 12604 has 150 N by hand, 260 N industrial "
        "(from memory)"
    ),
    limits=(
        "Operator disconnected, two people, slow steady pulls at two heights or more, three are better. Not on "
        "a door that may have a broken spring or cable: that one is not to be lifted. While it sinks, an "
        "upward pull that holds it back is plus, a downward pull that drags it is minus. " + _STOP
    ),
)
def door_balance(
    heights: Annotated[Sequence[float], Input("in", "Heights of the pulls", many=True, least=0, most=600)],
    up: Annotated[
        Sequence[float],
        Input("lbf", "Pull up that just keeps it rising, at each height", many=True, least=-500, most=500),
    ],
    down: Annotated[
        Sequence[float],
        Input(
            "lbf",
            "Upward pull while it just keeps sinking, at each height; minus where it must be pulled down",
            many=True,
            least=-500,
            most=500,
        ),
    ],
    capacity: Annotated[float | None, Input("lbf", "Out of balance the operator can hold", least=1, most=5000)] = None,
) -> DoorBalance:
    """Half the sum of the two pulls is the balance, half the difference the friction."""
    if not len(heights) == len(up) == len(down):
        raise FormulaError(
            f"Each height needs one pull up and one down: there are {len(heights)} heights, {len(up)} up, "
            f"{len(down)} down."
        )
    if len(set(heights)) < 2:
        raise FormulaError("Pull at two different heights or more: one says nothing of the spring.")
    balances = [(pull_up + pull_down) / 2 for pull_up, pull_down in zip(up, down, strict=True)]
    frictions = [(pull_up - pull_down) / 2 for pull_up, pull_down in zip(up, down, strict=True)]
    if min(frictions) < 0:
        height = heights[frictions.index(min(frictions))]
        raise FormulaError(
            f"At {shown(height)} in the pull up is less than the pull while sinking, which friction cannot "
            "do. Check which is which, and write a downward pull as minus."
        )
    index = max(range(len(balances)), key=lambda each: abs(balances[each]))
    middle, mean = sum(heights) / len(heights), sum(balances) / len(balances)
    spread = sum((height - middle) ** 2 for height in heights)
    slope = sum((h - middle) * (b - mean) for h, b in zip(heights, balances, strict=True)) / spread
    falls = any(balance > friction for balance, friction in zip(balances, frictions, strict=True))
    rises = any(-balance > friction for balance, friction in zip(balances, frictions, strict=True))
    verdict = {(False, False): "stays put", (True, False): "falls", (False, True): "rises"}
    return DoorBalance(
        worst=balances[index],
        worst_height=heights[index],
        friction=sum(frictions) / len(frictions),
        trend=12 * slope,
        share="not given" if capacity is None else 100 * abs(balances[index]) / capacity,
        verdict=verdict.get((falls, rises), "falls and rises"),
    )


class BalanceForce(NamedTuple):
    force: Annotated[float, Output("lbf", "Hand force without friction: plus heavy, minus light")]
    weight_carried: Annotated[float, Output("lbf", "Weight still hanging on the cables")]
    torque: Annotated[float, Output("in*lbf", "Torque left in the spring")]


@formula(
    title="Hand force to expect at a height, standard-lift door",
    working=("{at_height} in up: {weight_carried} lbf hangs, the spring gives {torque} in·lbf: {force} lbf by hand"),
    source=(
        "Statics: W(h) = W(1 - h/H) less the spring's torque over the drum radius; torque falls by the rate each turn"
    ),
    limits=(
        "An idealisation of a standard-lift sectional door, whose weight passes to the horizontal track as "
        "it rises. Not for rolling, high-lift or vertical-lift doors. " + _STOP
    ),
)
def balance_force(
    door_weight: Annotated[float, DOOR_WEIGHT],
    diameter: Annotated[float, DIAMETER],
    height: Annotated[float, HEIGHT],
    rate: Annotated[float, RATE],
    turns: Annotated[float, TURNS],
    at_height: Annotated[float, Input("in", "Height of the bottom edge", least=0, most=600)],
) -> BalanceForce:
    """Weight still hanging, less what the spring lifts at that height."""
    if at_height > height:
        raise FormulaError(f"The bottom edge cannot be {shown(at_height)} in up on a {shown(height)} in door.")
    torque = max(0.0, rate * (turns - at_height / (math.pi * diameter)))
    hanging = door_weight * (1 - at_height / height)
    return BalanceForce(hanging - torque / (diameter / 2), hanging, torque)


class SpringRate(NamedTuple):
    rate: Annotated[float, Output("in*lbf/turn", "Rate, as the trade reckons")]
    theory: Annotated[float, Output("in*lbf/turn", "Rate without friction between coils")]
    coil_index: Annotated[float, Output("", "Spring index, mean diameter over wire")]


def _index(wire: float, mean: float) -> float:
    index = mean / wire
    if not 3 <= index <= 40:
        raise FormulaError(
            f"A {shown(mean)} in coil of {shown(wire)} in wire has a spring index of {shown(index)}: it "
            "must be 3 to 40. Check the two diameters; the mean is the inside plus one wire."
        )
    return index


@formula(
    title="Rate of a torsion spring",
    working="{wire} in wire, {mean} in mean, {coils} coils: {rate} in·lbf a turn (index {coil_index})",
    source="E·d⁴/(10.8·D·N), the spring handbooks' form; 64/2π = 10.186 in place of 10.8 without friction",
    limits=(
        "Round wire, close-wound. 28.5 million psi for oil-tempered and hard-drawn, 30 for music wire (from "
        "memory). The wire diameter counts by its fourth power: 1 % of it is 4 % of the rate. " + _STOP
    ),
)
def spring_rate(
    wire: Annotated[float, WIRE],
    mean: Annotated[float, MEAN],
    coils: Annotated[float, COILS],
    modulus: Annotated[float, MODULUS] = 28.5e6,
) -> SpringRate:
    """Elastic modulus times wire to the fourth power, over 10.8 times mean diameter times coils."""
    index = _index(wire, mean)
    stiffness = modulus * wire**4 / (mean * coils)
    return SpringRate(stiffness / 10.8, stiffness * math.tau / 64, index)


@formula(
    title="Stress factor of a coiled wire in bending",
    working=("{mean} in coil of {wire} in wire: the inside of the coil carries {factor} times the plain stress"),
    source="Wahl, curved-beam bending factor (4C² - C - 1)/(4C(C - 1)), C the mean diameter over the wire",
    limits=("Round wire in bending, index 3 to 40: a torsion spring. The factor for compression springs is another."),
)
def spring_bending_factor(
    wire: Annotated[float, WIRE], mean: Annotated[float, MEAN]
) -> Annotated[float, Output("", "Stress at the inside of the coil over that of straight wire", "factor")]:
    """(4C² - C - 1)/(4C(C - 1))."""
    index = _index(wire, mean)
    return (4 * index**2 - index - 1) / (4 * index * (index - 1))


class SpringMatch(NamedTuple):
    given: Annotated[float, Output("in*lbf", "Torque these springs give, door closed")]
    needed: Annotated[float, Output("in*lbf", "Torque this door needs, closed")]
    share: Annotated[float, Output("percent", "Given over needed")]
    rate_share: Annotated[float, Output("percent", "Rate over the rate that would follow the weight all the way")]
    verdict: Annotated[str, Output("", "matches, weak, strong, or wrong rate")]


@formula(
    title="Is this the right spring for this door",
    working=(
        "{springs} × {wire} in wire, {inside} in inside, {coils} coils: {given} in·lbf given, {needed} "
        "needed ({share} %): {verdict}; a door technician's work"
    ),
    source=(
        "Torque needed is weight times drum radius; torque given is the rate E·d⁴/(10.8·D·N) times the "
        "turns; a rate follows the weight when it falls by the whole torque over the drum's turns"
    ),
    limits=(
        "Standard-lift sectional doors on drums of one diameter. Without the turns from the label or "
        "record, the drum's own turns over the door height stand in. The 5 %, and 20 % for the rate, are "
        "estimates. " + _STOP
    ),
)
def spring_match(
    door_weight: Annotated[float, DOOR_WEIGHT],
    diameter: Annotated[float, DIAMETER],
    height: Annotated[float, HEIGHT],
    wire: Annotated[float, WIRE],
    inside: Annotated[float, Input("in", "Inside coil diameter", least=0.1, most=20)],
    coils: Annotated[float, COILS],
    springs: Annotated[float, Input("count", "Like springs on the shaft", least=1, most=8, whole=True)] = 1,
    turns: Annotated[float | None, TURNS] = None,
    modulus: Annotated[float, MODULUS] = 28.5e6,
    tolerance: Annotated[float, Input("percent", "Difference to let pass", least=0.5, most=50)] = 5,
) -> SpringMatch:
    """Compare the torque with the door closed, and the rate with the one that would follow the door up."""
    rate = springs * spring_rate(wire, inside + wire, coils, modulus).rate
    lift_turns = height / (math.pi * diameter)
    needed = door_weight * diameter / 2
    given = rate * (lift_turns if turns is None else turns)
    share = 100 * given / needed
    rate_share = 100 * rate * lift_turns / needed
    if abs(share - 100) > tolerance:
        verdict = "weak" if share < 100 else "strong"
    else:
        # A label commonly has up to a turn more than the drum makes, so the rate is given more room.
        verdict = "matches" if abs(rate_share - 100) <= tolerance + 15 else "wrong rate"
    return SpringMatch(given, needed, share, rate_share, verdict)


class SpringEnergy(NamedTuple):
    torque: Annotated[float, Output("in*lbf", "Torque")]
    energy: Annotated[float, Output("in*lbf", "Energy")]
    joules: Annotated[float, Output("J", "Energy")]
    drop: Annotated[float, Output("ft", "Height from which a 100 lb weight would land with as much")]


@formula(
    title="Energy held in a wound spring",
    working=(
        "{rate} in·lbf a turn, {turns} turns: {energy} in·lbf ({joules} J), as a 100 lb weight dropped "
        "{drop} ft; stop here, a door technician's work"
    ),
    source="Half of rate times turns squared, in radians",
    limits="A linear spring. Two or more springs: their rates together. " + _STOP,
)
def spring_energy(rate: Annotated[float, RATE], turns: Annotated[float, TURNS]) -> SpringEnergy:
    """Mean torque times the angle: half the rate times turns squared times 2π."""
    energy = rate * turns**2 * math.pi
    return SpringEnergy(rate * turns, energy, energy * JOULES_PER_INCH_POUND, energy / 100 / 12)
