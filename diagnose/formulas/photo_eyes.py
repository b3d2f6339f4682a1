"""Photo eyes and their loop: aim, spread, neighbours, and volts at the far device."""

from __future__ import annotations

import math
from typing import Annotated, NamedTuple

from .registry import FormulaError, Input, Output, formula, shown
from .wire import GAUGE, RUN, STRAND, TEMPERATURE, conductor_resistance

SPAN = Input("ft", "Distance between the eyes", least=0.5, most=200)
LOOP_AMPS = Input("A", "Current of the devices at the far end", least=0.0001, most=20)
NEAR_VOLTS = Input("V", "Voltage at the near end, loaded", least=1, most=60)

_GEOMETRY = "Plane geometry"
_LOOP = (
    "Direct current over two like conductors, all the current to the far end, joints left out. Warm wire "
    "drops more: 4 % for 10 °C."
)


@formula(
    title="How far off an aim lands",
    working="{angle}° off over {span} ft: {offset} in off",
    source=_GEOMETRY,
    limits="Straight line of sight.",
)
def beam_offset(
    span: Annotated[float, SPAN], angle: Annotated[float, Input("deg", "Aim off by", least=0, most=45)]
) -> Annotated[float, Output("in", "Off at the far side", "offset")]:
    """Span times the tangent of the angle."""
    return 12 * span * math.tan(math.radians(angle))


@formula(
    title="Angle tolerance at the span",
    working="{offset} in off over {span} ft: {angle}°",
    source=_GEOMETRY,
    limits="Straight line of sight, up to 45°.",
)
def beam_angle(
    span: Annotated[float, SPAN], offset: Annotated[float, Input("in", "Off at the far side", least=0, most=2400)]
) -> Annotated[float, Output("deg", "Aim off by", "angle")]:
    """Arc tangent of offset over span."""
    if offset > 12 * span:
        raise FormulaError(
            f"{shown(offset)} in off over {shown(span)} ft is more than 45°: those eyes face past each other."
        )
    return math.degrees(math.atan2(offset, 12 * span))


@formula(
    title="Width of a beam at the far side",
    working="{half_angle}° either side over {span} ft: {width} in wide",
    source=_GEOMETRY,
    limits=(
        "To the edge the maker's half angle is given for. What blocks the beam is the lens-wide middle of it, not this."
    ),
)
def beam_width(
    span: Annotated[float, SPAN],
    half_angle: Annotated[float, Input("deg", "Half of the beam's angle", least=0.01, most=45)],
    lens: Annotated[float, Input("in", "Lens diameter", least=0, most=6)] = 0,
) -> Annotated[float, Output("in", "Width of the beam", "width")]:
    """The lens, and the spread either side."""
    return lens + 2 * beam_offset(span, half_angle)


class BeamGap(NamedTuple):
    gap: Annotated[float, Output("in", "Least gap between the two beams")]
    angle: Annotated[float, Output("deg", "Angle it is reckoned from")]


@formula(
    title="Least gap between the beams of adjacent doors",
    working=("{distance} ft, {transmitter}° and {receiver}° half angles, aim within {aim}°: {gap} in apart or more"),
    source=f"{_GEOMETRY}: light passes only where the line lies within both cones",
    limits=(
        "Parallel beams pointing the same way. Facing them the other way, back to back, needs no gap. "
        "Reflections off a bright wall or floor are not in it."
    ),
)
def beam_gap(
    distance: Annotated[float, Input("ft", "From the neighbour's transmitter to this receiver", least=0.5, most=400)],
    transmitter: Annotated[float, Input("deg", "Half angle of the transmitter", least=0.01, most=45)],
    receiver: Annotated[float, Input("deg", "Half angle the receiver sees", least=0.01, most=45)],
    aim: Annotated[float, Input("deg", "Aim error to allow for, each", least=0, most=10)] = 1,
) -> BeamGap:
    """Distance times the tangent of the narrower half angle, widened by the aim error."""
    angle = min(transmitter, receiver) + aim
    return BeamGap(beam_offset(distance, angle), angle)


class BeamLoss(NamedTuple):
    loss: Annotated[float, Output("dB", "Loss, minus for a gain")]
    share: Annotated[float, Output("percent", "Light left")]


@formula(
    title="Signal lost with range",
    working="{near} ft to {far} ft: {loss} dB less, {share} % of the light left",
    source="Inverse square law",
    limits="A beam spreading freely. Dirt, fog and ageing come on top.",
)
def beam_loss(
    near: Annotated[float, Input("ft", "Range at which it works", least=0.1, most=400)],
    far: Annotated[float, Input("ft", "Range it is to work at", least=0.1, most=400)],
) -> BeamLoss:
    """Twenty times the logarithm of the ratio: 6.02 dB for each doubling."""
    return BeamLoss(20 * math.log10(far / near), 100 * (near / far) ** 2)


class FarEndVolts(NamedTuple):
    far_volts: Annotated[float, Output("V", "Voltage at the far device")]
    drop: Annotated[float, Output("V", "Drop on the way")]
    loop: Annotated[float, Output("ohm", "Resistance out and back")]


@formula(
    title="Voltage to expect at a far device",
    working=("{near_volts} V near, {gauge} AWG, {run} ft, {amps} A: {loop} Ω loop drops {drop} V, {far_volts} V far"),
    source="Ohm's law over the loop; IEC 60028 for copper",
    limits=_LOOP,
)
def far_end_volts(
    near_volts: Annotated[float, NEAR_VOLTS],
    gauge: Annotated[float, GAUGE],
    run: Annotated[float, RUN],
    amps: Annotated[float, LOOP_AMPS],
    temperature: Annotated[float, TEMPERATURE] = 20,
    strand: Annotated[str, STRAND] = "solid",
) -> FarEndVolts:
    """Near volts less current times the loop's resistance."""
    loop = conductor_resistance(gauge, run, temperature, strand).loop
    drop = amps * loop
    if drop >= near_volts:
        raise FormulaError(
            f"{shown(amps)} A cannot flow through this loop: {shown(loop)} Ω would drop {shown(drop)} V of "
            f"the {shown(near_volts)} V. Check the current, in amperes, and the run."
        )
    return FarEndVolts(near_volts - drop, drop, loop)


@formula(
    title="Longest run to a far device",
    working="{near_volts} V to {needed_volts} V at {amps} A on {gauge} AWG: at most {run} ft one way",
    source="Ohm's law over the loop; IEC 60028 for copper",
    limits=_LOOP,
)
def longest_loop_run(
    near_volts: Annotated[float, NEAR_VOLTS],
    needed_volts: Annotated[float, Input("V", "Least the device works on", least=0.5, most=60)],
    gauge: Annotated[float, GAUGE],
    amps: Annotated[float, LOOP_AMPS],
    temperature: Annotated[float, TEMPERATURE] = 20,
    strand: Annotated[str, STRAND] = "solid",
) -> Annotated[float, Output("ft", "Longest run, one way", "run")]:
    """The volts to spare over current times the loop's resistance a foot."""
    if needed_volts >= near_volts:
        raise FormulaError(
            f"The near end has {shown(near_volts)} V and the device needs {shown(needed_volts)} V: there is "
            "nothing to spare."
        )
    return (near_volts - needed_volts) / (amps * conductor_resistance(gauge, 1, temperature, strand).loop)
