"""Chain, sprockets and drums: how fast, how long, how tight, how worn."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Annotated, Any, NamedTuple

from .registry import FormulaError, Input, Output, formula, shown


class Chain(NamedTuple):
    """One size of roller chain: inches, pounds-force, pounds per foot."""

    pitch: Annotated[float, Output("in", "Pitch")]
    roller: Annotated[float, Output("in", "Roller diameter")]
    tensile: Annotated[float, Output("lbf", "Least tensile strength, new")]
    weight: Annotated[float, Output("lb/ft", "Weight, typical")]


CHAINS: dict[float, Chain] = {
    25: Chain(0.250, 0.130, 780.0, 0.084),
    35: Chain(0.375, 0.200, 1760.0, 0.21),
    40: Chain(0.500, 0.312, 3125.0, 0.41),
    41: Chain(0.500, 0.306, 1500.0, 0.28),
    50: Chain(0.625, 0.400, 4880.0, 0.68),
    60: Chain(0.750, 0.469, 7030.0, 1.00),
    80: Chain(1.000, 0.625, 12500.0, 1.69),
}
"""By chain number, ASME B29.1; 25 and 35 have a bushing for a roller. The weights are typical."""

CHAIN = Input("", "Chain number", allowed=tuple(CHAINS))
TEETH = Input("count", "Teeth on the driving sprocket", least=6, most=150, whole=True)
RPM = Input("rpm", "Motor speed", least=0.1, most=4000)
REDUCTION = Input("", "Motor turns for one output turn", least=0.05, most=1000)
DIAMETER = Input("in", "Drum diameter, to the middle of the cable", least=0.5, most=60)
SPAN = Input("ft", "Span between supports", least=0.5, most=60)
WEIGHT = Input("lb/ft", "Chain weight per foot", least=0.02, most=10)

_CHAIN_TABLE = "ASME B29.1"


@formula(
    title="Pitch, roller, strength and weight of a roller chain",
    working=("No. {chain}: pitch {pitch} in, roller {roller} in, breaks above {tensile} lbf, about {weight} lb/ft"),
    source=f"{_CHAIN_TABLE}; weights from a handbook table of standard chain",
    limits=(
        "Single strand, standard series. The tensile strength is where a new chain breaks, not a working "
        "load. 41 has the pitch of 40 and less than half its strength. Weights vary a few percent between "
        "makes."
    ),
)
def chain_data(chain: Annotated[float, CHAIN]) -> Chain:
    """The standard's figures by number: the first digits are the pitch in eighths of an inch."""
    return CHAINS[chain]


class ChainSpeed(NamedTuple):
    speed: Annotated[float, Output("in/s", "Speed")]
    ripple: Annotated[float, Output("percent", "Unevenness from the sprocket being a polygon")]


@formula(
    title="Speed of a chain",
    working="No. {chain} on {teeth} teeth at {rpm} rpm: {speed} in/s, uneven by {ripple} %",
    source=f"Pitch times teeth times turns; pitch from {_CHAIN_TABLE}; unevenness 1 - cos(180°/N)",
    limits="The mean speed. π times the pitch diameter is too long: a chain wraps a polygon, not a circle.",
)
def chain_speed(
    chain: Annotated[float, CHAIN],
    teeth: Annotated[float, TEETH],
    rpm: Annotated[float, Input("rpm", "Sprocket speed", least=0.1, most=4000)],
) -> ChainSpeed:
    """Each tooth lays down one pitch."""
    return ChainSpeed(CHAINS[chain].pitch * teeth * rpm / 60, 100 * (1 - math.cos(math.pi / teeth)))


class TravelTime(NamedTuple):
    seconds: Annotated[float, Output("s", "Time")]
    speed: Annotated[float, Output("in/s", "Speed")]


@formula(
    title="Time for a chain-driven travel",
    working=("{rpm} rpm over {reduction}, No. {chain} on {teeth} teeth: {speed} in/s, {travel} in takes {seconds} s"),
    source=f"Pitch times teeth times turns; pitch from {_CHAIN_TABLE}",
    limits="Steady running at the given motor speed: starting, soft stop and a sagging motor add to it.",
)
def chain_travel_time(
    rpm: Annotated[float, RPM],
    reduction: Annotated[float, REDUCTION],
    chain: Annotated[float, CHAIN],
    teeth: Annotated[float, TEETH],
    travel: Annotated[float, Input("in", "Travel of the chain", least=0.1, most=2000)],
) -> TravelTime:
    """Travel over chain speed; the sprocket turns at motor speed over the whole reduction."""
    speed = chain_speed(chain, teeth, rpm / reduction).speed
    return TravelTime(travel / speed, speed)


@formula(
    title="Time for a drum-driven travel",
    working="{rpm} rpm over {reduction}, {diameter} in drum: {speed} in/s, {travel} in takes {seconds} s",
    source="Circumference of the drum times turns",
    limits=("A drum of one diameter: not high-lift or vertical-lift drums, whose diameter changes as they turn."),
)
def drum_travel_time(
    rpm: Annotated[float, RPM],
    reduction: Annotated[float, REDUCTION],
    diameter: Annotated[float, DIAMETER],
    travel: Annotated[float, Input("in", "Travel of the door", least=0.1, most=2000)],
) -> TravelTime:
    """Travel over cable speed; the shaft turns at motor speed over the whole reduction."""
    speed = math.pi * diameter * rpm / reduction / 60
    return TravelTime(travel / speed, speed)


@formula(
    title="Pitch diameter of a sprocket",
    working="No. {chain}, {teeth} teeth: pitch diameter {diameter} in",
    source=f"{_CHAIN_TABLE}: pitch over the sine of 180° over the teeth",
    limits="To the pin centres. A rule reads the outside diameter, about half a pitch more.",
)
def sprocket_pitch_diameter(
    chain: Annotated[float, CHAIN], teeth: Annotated[float, TEETH]
) -> Annotated[float, Output("in", "Pitch diameter", "diameter")]:
    """Pitch over sin(180°/N)."""
    return CHAINS[chain].pitch / math.sin(math.pi / teeth)


class ChainLength(NamedTuple):
    pitches: Annotated[float, Output("links", "Exact length in pitches")]
    links: Annotated[float, Output("links", "Even number of links to cut")]
    length: Annotated[float, Output("in", "Length of that chain")]


@formula(
    title="Length of chain round two sprockets",
    working=(
        "No. {chain}, {large} and {small} teeth at {centres} in: {pitches} pitches, cut {links} links ({length} in)"
    ),
    source="Chain handbooks: 2C + (N+n)/2 + ((N-n)/2π)²/C, C in pitches",
    limits="An approximation good to a small part of a pitch. Even, so that no offset link is needed.",
)
def chain_length(
    centres: Annotated[float, Input("in", "Distance between shafts", least=1, most=1200)],
    chain: Annotated[float, CHAIN],
    large: Annotated[float, Input("count", "Teeth on the larger sprocket", least=6, most=150, whole=True)],
    small: Annotated[float, Input("count", "Teeth on the smaller sprocket", least=6, most=150, whole=True)],
) -> ChainLength:
    """Twice the centres, half of each sprocket, and a little for the slant; then up to an even number."""
    pitch = CHAINS[chain].pitch
    touching = (sprocket_pitch_diameter(chain, large) + sprocket_pitch_diameter(chain, small)) / 2
    if centres <= touching:
        raise FormulaError(
            f"At {shown(centres)} in these sprockets would touch: the shafts must be more than "
            f"{shown(touching)} in apart."
        )
    distance = centres / pitch
    pitches = 2 * distance + (large + small) / 2 + ((large - small) / math.tau) ** 2 / distance
    links = 2.0 * math.ceil(round(pitches / 2, 9))
    return ChainLength(pitches, links, links * pitch)


class ChainTension(NamedTuple):
    tension: Annotated[float, Output("lbf", "Tension, horizontal part")]
    sag: Annotated[float, Output("in", "Sag below the straight line")]
    movement: Annotated[float, Output("in", "Movement up and down by hand")]
    percent: Annotated[float, Output("percent", "Movement as a share of the span")]


_SAG = "Parabola for a catenary: within 1 % at a sag of a tenth of the span. Level span, chain standing still."
_SAG_SOURCE = "Statics of a hanging chain, T = wL²/8s (horizontal part); movement is about twice the sag"


@formula(
    title="Tension of a chain from its sag",
    working=(
        "{weight} lb/ft over {span} ft, {sag} in of sag (about {movement} in of movement, {percent} %): {tension} lbf"
    ),
    source=f"{_SAG_SOURCE}; handbook slack is a movement of 4 to 6 % of the span (from memory)",
    limits=f"{_SAG} Sag is below the straight line; movement is hand-pushed up and down, about twice that.",
)
def chain_tension(
    weight: Annotated[float, WEIGHT],
    span: Annotated[float, SPAN],
    sag: Annotated[float, Input("in", "Sag, or movement up and down, at midspan", least=0.05, most=72)],
    reading: Annotated[str, Input("", "Which was measured", choices=("sag", "movement"))] = "sag",
) -> ChainTension:
    """Weight per foot times span squared over eight times the sag."""
    true_sag = sag / 2 if reading == "movement" else sag
    if true_sag > 0.125 * 12 * span:
        raise FormulaError(
            f"A sag of {shown(true_sag)} in is more than an eighth of the {shown(span)} ft span: the chain "
            "is slack, not tensioned, and this formula no longer holds. Take up the slack first."
        )
    tension = weight * span**2 / (8 * true_sag / 12)
    return ChainTension(tension, true_sag, 2 * true_sag, 100 * 2 * true_sag / (12 * span))


class ChainSag(NamedTuple):
    sag: Annotated[float, Output("in", "Sag below the straight line")]
    movement: Annotated[float, Output("in", "Movement up and down by hand")]


@formula(
    title="Sag of a chain from its tension",
    working=("{weight} lb/ft over {span} ft at {tension} lbf: {sag} in of sag, about {movement} in of movement"),
    source=_SAG_SOURCE,
    limits=_SAG,
)
def chain_sag(
    weight: Annotated[float, WEIGHT],
    span: Annotated[float, SPAN],
    tension: Annotated[float, Input("lbf", "Tension", least=0.1, most=5000)],
) -> ChainSag:
    """Weight per foot times span squared over eight times the tension."""
    sag = 12 * weight * span**2 / (8 * tension)
    if sag > 0.125 * 12 * span:
        raise FormulaError(
            f"At {shown(tension)} lbf this chain would hang {shown(sag)} in, more than an eighth of the "
            f"{shown(span)} ft span: the formula no longer holds."
        )
    return ChainSag(sag, 2 * sag)


@formula(
    title="Sag that a length of slack makes",
    working="{slack} in of slack in {span} ft: {sag} in of sag, about {movement} in of movement",
    source="Length of a shallow parabola, slack = 8s²/3L",
    limits=("One span carrying all the slack; a sag up to an eighth of the span. A little slack is a lot of sag."),
)
def sag_from_slack(
    span: Annotated[float, SPAN],
    slack: Annotated[float, Input("in", "Slack: chain length less span", least=0.0001, most=36)],
) -> ChainSag:
    """The square root of three eighths of span times slack."""
    sag = math.sqrt(3 * 12 * span * slack / 8)
    if sag > 0.125 * 12 * span:
        raise FormulaError(
            f"{shown(slack)} in of slack in {shown(span)} ft hangs {shown(sag)} in, more than an eighth of "
            "the span: too slack for this formula, and for the chain."
        )
    return ChainSag(sag, 2 * sag)


@formula(
    title="Slack behind a measured sag",
    working="{sag} in of sag in {span} ft: {slack} in of slack",
    source="Length of a shallow parabola, slack = 8s²/3L",
    limits="Sag, not movement: halve a movement first. A sag up to an eighth of the span.",
)
def slack_from_sag(
    span: Annotated[float, SPAN],
    sag: Annotated[float, Input("in", "Sag below the straight line", least=0.001, most=90)],
) -> Annotated[float, Output("in", "Slack: chain length less span", "slack")]:
    """Eight times sag squared over three times the span."""
    if sag > 0.125 * 12 * span:
        raise FormulaError(
            f"A sag of {shown(sag)} in is more than an eighth of the {shown(span)} ft span: the formula no "
            "longer holds."
        )
    return 8 * sag**2 / (3 * 12 * span)


class ChainWear(NamedTuple):
    percent: Annotated[float, Output("percent", "Longer than new")]
    limit: Annotated[float, Output("percent", "Replace at")]
    replace_at: Annotated[float, Output("in", "Length at which to replace")]
    verdict: Annotated[str, Output("", "keep or replace")]


@formula(
    title="Wear of a chain from a measured length",
    working=(
        "No. {chain}, {pitches} pitches read {length} in: {percent} % longer than new, limit {limit} %: {verdict}"
    ),
    source=(
        f"{_CHAIN_TABLE} and chain handbooks: 3 %, 1.5 % for fixed centres, at most 200/N % for a large sprocket of N"
    ),
    limits=(
        "Chain pulled tight, offset links left out, as many pitches as the tape can reach. Not for a mended chain."
    ),
)
def chain_wear(
    chain: Annotated[float, CHAIN],
    pitches: Annotated[float, Input("links", "Pitches measured, pin to pin", least=2, most=400, whole=True)],
    length: Annotated[float, Input("in", "Length over those pitches, chain tight", least=0.5, most=400)],
    centres: Annotated[str, Input("", "Shaft centres", choices=("adjustable", "fixed"))] = "adjustable",
    large: Annotated[float, Input("count", "Teeth on the larger sprocket", least=6, most=150, whole=True)] = 40,
) -> ChainWear:
    """Measured over new, less one. Worn pins and bushings lengthen a chain; nothing shortens it."""
    new = CHAINS[chain].pitch * pitches
    percent = 100 * (length - new) / new
    if percent < -1 or percent > 15:
        raise FormulaError(
            f"{shown(pitches)} pitches of No. {shown(chain)} measure {shown(new)} in new, and this reads "
            f"{shown(length)} in: count the pitches and check the chain number again."
        )
    limit = min(1.5 if centres == "fixed" else 3.0, 200 / large)
    verdict = "replace" if percent >= limit - 1e-9 else "keep"
    return ChainWear(percent, limit, new * (1 + limit / 100), verdict)


class LinksToRemove(NamedTuple):
    links: Annotated[float, Output("links", "Links to take out")]
    take_up: Annotated[float, Output("in", "Move the take-up, plus to tighten, minus to let out")]
    take_up_left: Annotated[float, Output("in", "Take-up left afterwards")]
    verdict: Annotated[str, Output("", "take up, remove links, or out of reach")]


def _links_working(values: Mapping[str, Any]) -> str:
    links, move = values["links"], values["take_up"]
    first = f"take out {shown(links)} links of No. {shown(values['chain'])}" if links else "take out no links"
    way = "tighten" if move >= 0 else "let out"
    return (
        f"{shown(values['slack'])} in too long: {first}, {way} the take-up {shown(abs(move))} in, "
        f"{shown(values['take_up_left'])} in of it then left: {values['verdict']}"
    )


@formula(
    title="Links to take out for a given slack",
    working=_links_working,
    source=f"Pitch from {_CHAIN_TABLE}; an inch of take-up takes two inches of loop, one from each strand",
    limits=(
        "A loop of two strands whose take-up moves one end. Measure the wear first: a chain past its limit "
        "is replaced, not shortened. Isolate, lock and tag, and secure the door before opening the chain."
    ),
)
def links_to_remove(
    slack: Annotated[float, Input("in", "Chain too long by, round the whole loop", least=0, most=120)],
    chain: Annotated[float, CHAIN],
    take_up_left: Annotated[float, Input("in", "Take-up still to be had", least=0, most=60)],
    take_up_used: Annotated[float, Input("in", "Take-up already used, that can be let out", least=0, most=60)] = 0,
    step: Annotated[float, Input("links", "Links at a time, 1 with an offset link", allowed=(1, 2))] = 2,
) -> LinksToRemove:
    """As many links as still let the chain be joined with the take-up let out, to win most take-up back."""
    pitch = CHAINS[chain].pitch
    links = step * math.floor((slack + 2 * take_up_used) / (step * pitch) + 1e-9)
    take_up = (slack - links * pitch) / 2
    left = take_up_left - take_up
    verdict = "remove links" if links else "take up"
    if left < -1e-9:
        verdict = "out of reach"
    return LinksToRemove(links, take_up, left, verdict)


class DrumTurns(NamedTuple):
    turns: Annotated[float, Output("turns", "Turns from closed to open")]
    per_turn: Annotated[float, Output("in", "Cable taken up in one turn")]


@formula(
    title="Drum turns for a door height",
    working="{height} in on a {diameter} in drum: {turns} turns, {per_turn} in a turn",
    source="Circumference of the drum",
    limits=("A drum of one diameter, measured to the middle of the cable. Not high-lift or vertical-lift drums."),
)
def drum_turns(
    height: Annotated[float, Input("in", "Door height", least=12, most=600)], diameter: Annotated[float, DIAMETER]
) -> DrumTurns:
    """Height over circumference."""
    per_turn = math.pi * diameter
    return DrumTurns(height / per_turn, per_turn)


class DrumSizeError(NamedTuple):
    error: Annotated[float, Output("in", "Too far, or short where negative")]
    reached: Annotated[float, Output("in", "Where the door really goes")]
    percent: Annotated[float, Output("percent", "Error as a share of the travel")]


@formula(
    title="Position error from a wrong drum size",
    working=(
        "Set for {set_diameter} in, fitted {fitted_diameter} in: {travel} in of travel goes {reached} in, "
        "{error} in off"
    ),
    source="Same turns on another circumference; the same ratio for sprocket teeth",
    limits="For travel counted in turns of the shaft. Sprockets likewise, with teeth in place of diameters.",
)
def drum_size_error(
    set_diameter: Annotated[float, Input("in", "Diameter the travel was set for", least=0.5, most=60)],
    fitted_diameter: Annotated[float, Input("in", "Diameter fitted", least=0.5, most=60)],
    travel: Annotated[float, Input("in", "Travel that was set", least=1, most=2000)],
) -> DrumSizeError:
    """The same number of turns carries the door by the ratio of the diameters."""
    reached = travel * fitted_diameter / set_diameter
    return DrumSizeError(reached - travel, reached, 100 * (reached - travel) / travel)
