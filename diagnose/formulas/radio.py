"""Radio to the operator's network module: power, loss, margin, channels and names."""

from __future__ import annotations

import math
from typing import Annotated, NamedTuple

from .registry import FormulaError, Input, Output, formula, shown

MEGAHERTZ = Input("MHz", "Frequency", least=300, most=83_500)
METRES = Input("m", "Distance", least=0.1, most=100_000)
LEVEL = Input("dBm", "Signal level", least=-150, most=60)


class Building(NamedTuple):
    """ITU-R P.1238, editions to -9: power-loss coefficient and floor losses, dB, by band.

    `first` is the loss of one floor below 2.2 GHz, at 2.4 GHz, and at 5 GHz; `further` that of each more.
    """

    low_band: float
    high_band: float
    first: tuple[float, float, float]
    further: float


BUILDINGS = {
    "residential": Building(28, 28, (4, 10, 13), 4),
    "office": Building(30, 31, (15, 14, 16), 4),
    "commercial": Building(22, 22, (6, 6, 6), 3),
}
"""Further floors and commercial buildings are tabled at 1.8 to 2 GHz alone and stand in for the rest."""


class Site(NamedTuple):
    """ITU-R P.1238-11 table 2: 10·alpha·log d + beta + 10·gamma·log f, f in GHz, d in metres."""

    alpha: float
    beta: float
    gamma: float
    spread: float
    nearest: float
    farthest: float


SITES = {
    "office in sight": Site(1.46, 34.62, 2.03, 3.76, 2, 27),
    "office out of sight": Site(2.46, 29.53, 2.38, 5.04, 4, 30),
    "corridor in sight": Site(1.63, 28.12, 2.25, 4.07, 2, 160),
    "corridor out of sight": Site(2.77, 29.27, 2.48, 7.63, 4, 94),
    "industrial in sight": Site(2.31, 24.52, 2.06, 2.69, 2, 101),
    "industrial out of sight": Site(3.79, 21.01, 1.34, 9.05, 5, 108),
}


@formula(
    title="Milliwatts of a signal level",
    working="{level} dBm is {milliwatts} mW",
    source="Definition: ten times the logarithm of the power in milliwatts",
    limits="Any level a field meter shows.",
)
def dbm_to_milliwatts(level: Annotated[float, LEVEL]) -> Annotated[float, Output("mW", "Power", "milliwatts")]:
    """Ten to the power of a tenth of the level."""
    return float(10 ** (level / 10))


@formula(
    title="Signal level of a power",
    working="{milliwatts} mW is {level} dBm",
    source="Definition: ten times the logarithm of the power in milliwatts",
    limits="Any power from a field meter's floor to a kilowatt.",
)
def milliwatts_to_dbm(
    milliwatts: Annotated[float, Input("mW", "Power", least=1e-15, most=1e6)],
) -> Annotated[float, Output("dBm", "Signal level", "level")]:
    """Ten times the logarithm of the power in milliwatts."""
    return 10 * math.log10(milliwatts)


@formula(
    title="Path loss in free space",
    working="{megahertz} MHz over {metres} m, nothing in the way: {loss} dB",
    source="ITU-R P.525: 20 log(4πd/λ)",
    limits="Clear line of sight, a metre or more, nothing near the line. The least loss there can be.",
)
def free_space_loss(
    megahertz: Annotated[float, MEGAHERTZ], metres: Annotated[float, METRES]
) -> Annotated[float, Output("dB", "Loss", "loss")]:
    """Twenty times the logarithm of 4π times distance over wavelength."""
    wavelength = 299.792458 / megahertz
    if metres < wavelength / math.tau:
        raise FormulaError(
            f"{shown(metres)} m is within a sixth of a wavelength ({shown(wavelength)} m): too near for the formula."
        )
    return 20 * math.log10(4 * math.pi * metres / wavelength)


class IndoorLoss(NamedTuple):
    loss: Annotated[float, Output("dB", "Loss")]
    coefficient: Annotated[float, Output("", "Power-loss coefficient used")]


@formula(
    title="Path loss indoors, by building and floors",
    working="{megahertz} MHz over {metres} m, {building}, {floors} floors between: {loss} dB",
    source="ITU-R P.1238, editions to -9: 20 log f + N log d + Lf(n) - 28",
    limits=(
        "More than 1 m, 900 MHz to 6 GHz, up to 3 floors. Spread about ±10 dB: furniture, steel doors and "
        "people are in it."
    ),
)
def indoor_loss(
    megahertz: Annotated[float, Input("MHz", "Frequency", least=900, most=6000)],
    metres: Annotated[float, Input("m", "Distance", least=1, most=1000)],
    building: Annotated[str, Input("", "Building", choices=tuple(BUILDINGS))] = "office",
    floors: Annotated[float, Input("count", "Floors between", least=0, most=3, whole=True)] = 0,
) -> IndoorLoss:
    """Frequency, distance by the building's coefficient, and the floors between."""
    row = BUILDINGS[building]
    coefficient = row.low_band if megahertz < 4000 else row.high_band
    loss = 20 * math.log10(megahertz) + coefficient * math.log10(metres) - 28
    if floors >= 1:
        band = 0 if megahertz < 2200 else 1 if megahertz < 4000 else 2
        loss += row.first[band] + row.further * (floors - 1)
    return IndoorLoss(loss, coefficient)


class SiteLoss(NamedTuple):
    loss: Annotated[float, Output("dB", "Loss, median")]
    spread: Annotated[float, Output("dB", "Standard deviation from place to place")]
    bad_case: Annotated[float, Output("dB", "Loss that one place in ten exceeds")]


@formula(
    title="Path loss indoors, by site and line of sight",
    working=(
        "{megahertz} MHz over {metres} m, {site}: {loss} dB, {spread} dB spread, one place in ten above {bad_case} dB"
    ),
    source="ITU-R P.1238-11 table 2: 10α log d + β + 10γ log f, f in GHz",
    limits=(
        "Same floor. Each site has its own distances, from 2 m in sight and 4 or 5 m out of sight; no floors between."
    ),
)
def site_loss(
    megahertz: Annotated[float, Input("MHz", "Frequency", least=625, most=70_000)],
    metres: Annotated[float, Input("m", "Distance", least=2, most=160)],
    site: Annotated[str, Input("", "Site", choices=tuple(SITES))] = "industrial in sight",
) -> SiteLoss:
    """The table's line for the site; one place in ten lies above the median by 1.2816 times the spread."""
    row = SITES[site]
    if not row.nearest <= metres <= row.farthest:
        raise FormulaError(
            f"For {site} the distance must be {shown(row.nearest)} to {shown(row.farthest)} m; got {shown(metres)} m."
        )
    loss = 10 * row.alpha * math.log10(metres) + row.beta + 10 * row.gamma * math.log10(megahertz / 1000)
    return SiteLoss(loss, row.spread, loss + 1.2815515655 * row.spread)


class SignalMargin(NamedTuple):
    level: Annotated[float, Output("dBm", "Level at the module")]
    margin: Annotated[float, Output("dB", "Above the least level")]
    verdict: Annotated[str, Output("", "enough, thin, or none")]


@formula(
    title="Signal margin to the module",
    working=("{power} dBm less {loss} dB: {level} dBm at the module, {margin} dB above {sensitivity} dBm: {verdict}"),
    source="Link budget: power and gains less loss. The 10 dB for fading is an estimate",
    limits=("One direction: the module's own transmitter is often the weaker. Noise and neighbours are not in it."),
)
def signal_margin(
    power: Annotated[float, Input("dBm", "Transmitter power", least=-30, most=40)],
    loss: Annotated[float, Input("dB", "Path loss", least=0, most=200)],
    sensitivity: Annotated[float, Input("dBm", "Least level the module works on", least=-140, most=0)],
    transmit_gain: Annotated[float, Input("dB", "Transmitting antenna gain, less its cable", least=-20, most=40)] = 0,
    receive_gain: Annotated[float, Input("dB", "Receiving antenna gain, less its cable", least=-20, most=40)] = 0,
    fade: Annotated[float, Input("dB", "Margin to keep for fading", least=0, most=60)] = 10,
) -> SignalMargin:
    """Power plus gains less loss, against the least level."""
    level = power + transmit_gain + receive_gain - loss
    margin = level - sensitivity
    return SignalMargin(level, margin, "enough" if margin >= fade else "thin" if margin > 0 else "none")


class SignalGrade(NamedTuple):
    grade: Annotated[str, Output("", "good, fair, poor, or too weak")]
    spare: Annotated[float, Output("dB", "Above the level called good, minus below")]


@formula(
    title="How good a signal level is",
    working="{level} dBm: {grade}, {spare} dB from good",
    source="Common practice for 2.4 and 5 GHz networks: -67 dBm good, to -75 fair, to -80 poor",
    limits="Level only: a strong signal in noise is no better than a weak one in quiet.",
)
def signal_grade(level: Annotated[float, LEVEL]) -> SignalGrade:
    """By the level at the module."""
    grade = "good" if level >= -67 else "fair" if level >= -75 else "poor" if level >= -80 else "too weak"
    return SignalGrade(grade, level + 67)


BAND = Input("", "Band, GHz", choices=("2.4", "5"))


@formula(
    title="Centre frequency of a channel",
    working="Channel {channel} of the {band} GHz band: {megahertz} MHz",
    source="IEEE 802.11: 2407 + 5n MHz, channel 14 at 2484; 5000 + 5n MHz",
    limits=(
        "2.4 GHz: channels 1 to 14, of which 1 to 11 in the US. 5 GHz: 32 to 177; which may be used is for "
        "the country to say."
    ),
)
def channel_centre(
    channel: Annotated[float, Input("count", "Channel", least=1, most=196, whole=True)],
    band: Annotated[str, BAND] = "2.4",
) -> Annotated[float, Output("MHz", "Centre frequency", "megahertz")]:
    """Five megahertz a channel from the band's start."""
    low, high = (1, 14) if band == "2.4" else (32, 177)
    if not low <= channel <= high:
        raise FormulaError(f"The {band} GHz band has channels {low} to {high}; got {shown(channel)}.")
    if band == "5":
        return 5000 + 5 * channel
    return 2484.0 if channel == 14 else 2407 + 5 * channel


class ChannelOverlap(NamedTuple):
    overlap: Annotated[float, Output("MHz", "Shared")]
    percent: Annotated[float, Output("percent", "Share of a channel")]
    apart: Annotated[float, Output("MHz", "Between centres")]


@formula(
    title="Overlap of two channels at 2.4 GHz",
    working=("Channels {first} and {second}, {width} MHz wide: {apart} MHz apart, {overlap} MHz shared ({percent} %)"),
    source="IEEE 802.11 channel centres, 5 MHz apart; width less distance between centres",
    limits=(
        "Nominal widths: some power falls outside. On one channel networks take turns, half over it they only disturb."
    ),
)
def channel_overlap(
    first: Annotated[float, Input("count", "One channel", least=1, most=14, whole=True)],
    second: Annotated[float, Input("count", "The other channel", least=1, most=14, whole=True)],
    width: Annotated[float, Input("MHz", "Width of each: 20, 22 for the oldest, 40", least=5, most=40)] = 20,
) -> ChannelOverlap:
    """Width less the distance between centres, never below nothing."""
    apart = abs(channel_centre(first) - channel_centre(second))
    overlap = max(0.0, width - apart)
    return ChannelOverlap(overlap, 100 * overlap / width, apart)
