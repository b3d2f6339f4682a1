"""Every formula against the outside: one row is one output of one formula, what it should be, and who says so.

A tolerance of a number is absolute; None asks for the very word. `memory` marks a figure recalled, not read:
such a row never counts as the only support of a formula. Rows marked with a library were got by running it;
tests/outside runs the libraries again.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple


class Check(NamedTuple):
    formula: str
    inputs: Mapping[str, Any]
    output: str
    expected: float | str
    tolerance: float | None
    source: str
    memory: bool = False


def of(formula: str, *rows: tuple[Any, ...]) -> list[Check]:
    """Checks of one formula; a row is inputs, output, expected, tolerance, source, and True if from memory."""
    return [Check(formula, *row) for row in rows]


# Sources that stand beside more than one row.
NEC_8 = "NEC chapter 9 table 8, uncoated copper at 75 °C"
WIRE_TABLE = "Lessons in Electric Circuits, vol. 5, solid copper wire table"
IACS = "100 % IACS copper, 1.7241e-8 Ω·m, over the area"
C84_120 = "ANSI C84.1, 120 V row, read in a copy"
C84 = "ANSI C84.1, from memory"
UNBALANCE = "NEMA MG-1 definition, worked example in an industrial training text"
MG1_CURVE = "NEMA MG-1 derating curve"
DERATING_TABLE = "published derating table for polyphase motors, within 0.015 of the curve"
MG1_12 = "NEMA MG-1 12.44.1"
B29 = "ASME B29.1"
SPROCKETS = "published sprocket dimension table"
CHAIN_WEIGHTS = "handbook table of standard roller chain"
WEAR = "chain handbooks: 3 %, 1.5 % fixed centres, 200/N"
CATENARY = "exact catenary, solved with scipy.optimize.brentq"
STATICS = "statics worked by hand: W 200 lb, r 2 in, H 84 in, k 57.1429, 7 turns"
CURVED = "curved-beam theory (Winkler and Bach), round section, solved exactly"
ENERGY = "energy of door and spring, differentiated with scipy.optimize.approx_fprime"
PINT_DRUM = "pint: turns a minute times circumference"
SPRING = "E·d⁴/(10.8·D·N) worked by hand"
NORRIS = "NIST StRD Norris, certified"
NILE = "Nile flows 1871-1970: the level falls after 1898, 1097.75 to 849.97 (Durbin and Koopman)"
NCT = "scipy.stats.nct, non-central t"
NEC_248 = "NEC table 430.248"
NEC_250 = "NEC table 430.250"
NEC_7B = "NEC table 430.7(B)"
NEC_32 = "NEC 430.32(A)(1), read in a copy"
DOE = "US DOE, Determining Electric Motor Load and Efficiency"
TANGENT = "table of tangents"
P525 = "ITU-R P.525, exact form"
LINK = "published case study of a wireless link"
P1238 = "ITU-R P.1238 to -9"
NS3 = "ITU-R P.1238 as documented for the ns-3 simulator"
P1238_11 = "ITU-R P.1238-11 table 2"
IEEE_CHANNELS = "IEEE 802.11 channel numbering"
COMMON = "common practice"
LIFE = "worked figures of the trade: 10 000 cycles at 2, 4, 6 a day last 13.7, 6.8, 4.6 years"
CFR_FIRE = "NFPA 80: a rolling fire door closes at 6 to 24 in/s"

# Data that more than one row uses.
SLIP = (0.02, 0.11, 0.14, 0.21, 0.24, 0.33, 0.34, 0.41, 0.46, 0.51)
JUMP = (0.01, -0.01, 0.02, 0.0, 0.01, 0.51, 0.49, 0.50, 0.52, 0.50)
STILL = (0.01, -0.02, 0.02, 0.0, -0.01, 0.01, -0.01, 0.02, -0.02, 0.01)
NILE_FLOWS = (
    *(1120, 1160, 963, 1210, 1160, 1160, 813, 1230, 1370, 1140, 995, 935, 1110, 994, 1020, 960, 1180, 799, 958, 1140),
    *(1100, 1210, 1150, 1250, 1260, 1220, 1030, 1100, 774, 840, 874, 694, 940, 833, 701, 916, 692, 1020, 1050, 969),
    *(831, 726, 456, 824, 702, 1120, 1100, 832, 764, 821, 768, 845, 864, 862, 698, 845, 744, 796, 1040, 759),
    *(781, 865, 845, 944, 984, 897, 822, 1010, 771, 676, 649, 846, 812, 742, 801, 1040, 860, 874, 848, 890),
    *(744, 749, 838, 1050, 918, 986, 797, 923, 975, 815, 1020, 906, 901, 1170, 912, 746, 919, 718, 714, 740),
)
NORRIS_X = (
    *(0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4),
    *(0.6, 775.5, 666.9, 338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3),
    *(0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5),
)
NORRIS_Y = (
    *(0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3),
    *(0.1, 778.1, 668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3),
    *(0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2),
)
FIVE = {"x": (-3, 2, 5, 8, 10), "y": (-1, 2, 4, 6, 11)}
PULLS = {
    # The hand forces of the statics above, with 12 lbf of friction each way.
    "heights": (0, 21, 42, 63, 84),
    "up": (12.0, 9.746, 7.493, 5.239, 2.986),
    "down": (-12.0, -14.254, -16.507, -18.761, -21.014),
}
SAGGING = {"volts_12": 480, "volts_23": 460, "volts_31": 460, "nominal": 480, "motor": "running"}
DOOR = {"door_weight": 200, "diameter": 4, "height": 84, "turns": 7}
BALANCED = {**DOOR, "rate": 57.142857}
MAKERS_SPRING = {
    "door_weight": 10,
    "diameter": 2.988,
    "height": 46.935,
    "wire": 0.035,
    "inside": 0.43,
    "coils": 3,
    "modulus": 30e6,
}
WARMED = {
    "stops": (0.21, 0.28, 0.24, 0.41, 0.33, 0.19, 0.39, 0.30),
    "temperatures": (10, 14, 12, 20, 16, 9, 19, 15),
}
COIL = {"wire": 0.25, "mean": 2.25, "coils": 100}

CHECKS: list[Check] = [
    # wire
    *of(
        "wire-size",
        ({"gauge": 14}, "diameter", 0.06408, 5e-6, WIRE_TABLE),
        ({"gauge": 10}, "circular_mils", 10380, 5, WIRE_TABLE),
        ({"gauge": 18}, "circular_mils", 1624, 0.5, WIRE_TABLE),
        ({"gauge": 0}, "diameter", 0.3249, 5e-5, WIRE_TABLE),
        ({"gauge": -3}, "diameter", 0.46, 5e-5, WIRE_TABLE),
        ({"gauge": 14}, "diameter_mm", 1.62814, 5e-4, "fluids.piping.t_from_gauge, schedule AWG, four figures"),
        ({"gauge": 22}, "ohms_per_kft", 16.143, 0.005, IACS),
        ({"gauge": 14, "temperature": 75}, "ohms_per_kft", 3.07, 0.005, NEC_8),
        ({"gauge": 12, "temperature": 75}, "ohms_per_kft", 1.93, 0.005, NEC_8),
        ({"gauge": 10, "temperature": 75}, "ohms_per_kft", 1.21, 0.006, NEC_8),
        ({"gauge": 16, "temperature": 75, "strand": "stranded"}, "ohms_per_kft", 4.99, 0.02, NEC_8),
        ({"gauge": 14, "temperature": 75, "strand": "stranded"}, "ohms_per_kft", 3.14, 0.02, NEC_8, True),
        ({"gauge": 14}, "area", 2.0809, 5e-5, "π/4 of the wire table's diameter, in mm"),
        ({"gauge": 18}, "area", 0.823, 5e-4, "physics text: 18-gauge cord, 0.823 mm²"),
    ),
    *of(
        "conductor-resistance",
        ({"gauge": 14, "run": 1000, "temperature": 75}, "one_way", 3.07, 0.005, NEC_8),
        ({"gauge": 22, "run": 100}, "loop", 3.229, 0.001, IACS),
        ({"gauge": 12, "run": 500, "temperature": 75}, "loop", 1.93, 0.005, NEC_8),
        (
            {"gauge": 14, "run": 1000, "temperature": 25, "strand": "stranded"},
            "one_way",
            2.633,
            0.015,
            "NEC chapter 9 table 8 and its note, R₂ = R₁(1 + 0.00323(T - 75))",
        ),
    ),
    *of(
        "voltage-drop",
        ({"volts": 120, "amps": 16, "run": 150, "gauge": 12, "strand": "solid"}, "drop", 9.264, 0.02, NEC_8),
        ({"volts": 120, "amps": 16, "run": 150, "gauge": 12, "strand": "solid"}, "percent", 7.72, 0.02, NEC_8),
        ({"volts": 120, "amps": 16, "run": 150, "gauge": 10}, "drop", 5.952, 0.04, NEC_8),
        ({"volts": 208, "amps": 10.6, "run": 200, "gauge": 14, "phase": "three"}, "drop", 11.53, 0.05, NEC_8),
        (
            {"volts": 24, "amps": 4, "run": 100, "gauge": 16},
            "drop",
            4.0,
            0.03,
            "electricians' training text: No. 16, 100 ft, 4 A, 4.0 V by table 8",
        ),
        (
            {"volts": 24, "amps": 4, "run": 100, "gauge": 16},
            "percent",
            16.7,
            0.12,
            "the same training text: 16.7 % of 24 V",
        ),
        (
            {"volts": 24, "amps": 1, "run": 100, "gauge": 18, "temperature": 20, "strand": "solid"},
            "drop",
            1.27,
            0.01,
            "low-voltage installers' chart: 18 AWG pair, 1 A, 1.27 V in 100 ft",
        ),
        ({"volts": 120, "amps": 16, "run": 150, "gauge": 12, "strand": "solid"}, "far_volts", 110.736, 0.02, NEC_8),
    ),
    *of(
        "longest-run",
        ({"volts": 120, "amps": 16, "gauge": 12, "percent": 7.72, "strand": "solid"}, "run", 150, 0.4, NEC_8),
        ({"volts": 120, "amps": 16, "gauge": 10, "percent": 4.96}, "run", 150, 1.0, NEC_8),
        ({"volts": 208, "amps": 10.6, "gauge": 14, "percent": 5.543, "phase": "three"}, "run", 200, 0.8, NEC_8),
    ),
    *of(
        "smallest-gauge",
        ({"volts": 120, "amps": 16, "run": 150, "percent": 5}, "gauge", 10, 0, NEC_8),
        ({"volts": 120, "amps": 16, "run": 150, "percent": 5}, "drop", 5.952, 0.04, NEC_8),
        ({"volts": 120, "amps": 16, "run": 150, "percent": 7.8, "strand": "solid"}, "gauge", 12, 0, NEC_8),
        (
            {"volts": 24, "amps": 2, "run": 400, "percent": 12.5, "temperature": 20},
            "gauge",
            12,
            0,
            f"{WIRE_TABLE}: 14 AWG drops 4.0 V, 12 AWG 2.5 V of the 3 V allowed",
        ),
        ({"volts": 120, "amps": 0.1, "run": 50}, "gauge", 14, 0, "NEC 310.3(A): 14 AWG the least on mains", True),
        ({"volts": 120, "amps": 16, "run": 150, "percent": 5}, "percent_used", 4.96, 0.04, NEC_8),
    ),
    *of(
        "joint-resistance",
        (
            {"idle_volts": 120, "running_volts": 105, "amps": 16, "gauge": 12, "run": 150, "strand": "solid"},
            "excess",
            15 - 9.264,
            0.02,
            NEC_8,
        ),
        (
            {"idle_volts": 120, "running_volts": 105, "amps": 16, "gauge": 12, "run": 150, "strand": "solid"},
            "joint_ohms",
            (15 - 9.264) / 16,
            0.002,
            NEC_8,
        ),
        (
            {"idle_volts": 208, "running_volts": 190, "amps": 10.6, "gauge": 14, "run": 200, "phase": "three"},
            "expected_drop",
            11.53,
            0.05,
            NEC_8,
        ),
        (
            {"idle_volts": 119.5, "running_volts": 108.5, "amps": 6.2, "gauge": 14, "run": 95},
            "expected_drop",
            2 * 6.2 * 3.14 * 0.095,
            0.02,
            NEC_8,
            True,
        ),
        (
            {"idle_volts": 24, "running_volts": 20, "amps": 4, "gauge": 16, "run": 100},
            "joint_ohms",
            0.002,
            0.005,
            "electricians' training text: the wire alone drops 4.0 V",
        ),
        (
            {"idle_volts": 120, "running_volts": 105, "amps": 16, "gauge": 12, "run": 150, "strand": "solid"},
            "measured_drop",
            15,
            0,
            "by hand",
        ),
        (
            {"idle_volts": 120, "running_volts": 105, "amps": 16, "gauge": 12, "run": 150, "strand": "solid"},
            "joint_watts",
            16 * (15 - 9.264),
            0.4,
            NEC_8,
        ),
    ),
    # supply
    *of(
        "supply-band",
        ({"nominal": 120, "volts": 108}, "band", "range A", None, C84_120),
        ({"nominal": 120, "volts": 107.9}, "band", "range B", None, C84_120),
        ({"nominal": 120, "volts": 103.9}, "band", "low", None, C84_120),
        ({"nominal": 120, "volts": 113, "point": "service"}, "band", "range B", None, C84_120),
        ({"nominal": 120, "volts": 126.5}, "band", "range B", None, C84_120),
        ({"nominal": 120, "volts": 127.5}, "band", "high", None, C84_120),
        ({"nominal": 120, "volts": 114}, "percent", -5, 1e-9, C84_120),
        ({"nominal": 208, "volts": 187}, "band", "range A", None, C84, True),
        ({"nominal": 240, "volts": 215}, "band", "range B", None, C84, True),
        ({"nominal": 480, "volts": 415}, "band", "low", None, C84, True),
        ({"nominal": 480, "volts": 505}, "band", "range B", None, C84, True),
        ({"nominal": 120, "volts": 115}, "range_a_low", 108, 0, C84_120),
        ({"nominal": 120, "volts": 115}, "range_a_high", 126, 0, C84_120),
        ({"nominal": 120, "volts": 115, "point": "service"}, "range_a_low", 114, 0, C84_120),
    ),
    *of(
        "voltage-unbalance",
        ({"volts_12": 480, "volts_23": 476, "volts_31": 472}, "percent", 0.84, 0.005, UNBALANCE),
        ({"volts_12": 462, "volts_23": 463, "volts_31": 455}, "percent", 1.0870, 5e-5, UNBALANCE),
        ({"volts_12": 460, "volts_23": 467, "volts_31": 450}, "percent", 1.96, 0.005, UNBALANCE),
        ({"volts_12": 203, "volts_23": 210, "volts_31": 212}, "percent", 2.56, 0.005, UNBALANCE),
        ({"volts_12": 462, "volts_23": 463, "volts_31": 455}, "mean", 460, 1e-9, UNBALANCE),
        ({"volts_12": 462, "volts_23": 463, "volts_31": 455}, "farthest", "L3-L1", None, UNBALANCE),
    ),
    *of(
        "unbalance-derating",
        ({"percent": 1}, "factor", 1.0, 0.01, MG1_CURVE),
        ({"percent": 3}, "factor", 0.88, 0.01, MG1_CURVE),
        ({"percent": 5}, "factor", 0.75, 0.01, MG1_CURVE),
        ({"percent": 1.5}, "factor", 0.97, 0.016, DERATING_TABLE),
        ({"percent": 2.5}, "factor", 0.93, 0.016, DERATING_TABLE),
        ({"percent": 3.5}, "factor", 0.85, 0.016, DERATING_TABLE),
        ({"percent": 4.5}, "factor", 0.78, 0.016, DERATING_TABLE),
        ({"percent": 5.1}, "verdict", "do not run", None, "NEMA MG-1: not above 5 %"),
    ),
    *of(
        "open-conductor",
        (
            {"volts_12": 240, "volts_23": 480, "volts_31": 240, "nominal": 480},
            "open",
            "L1",
            None,
            "two like windings in series halve the voltage",
        ),
        (
            {"volts_12": 478, "volts_23": 481, "volts_31": 480, "nominal": 480},
            "open",
            "none",
            None,
            "ANSI C84.1: all three within range",
        ),
        (
            {"volts_12": 480, "volts_23": 416, "volts_31": 416, "nominal": 480, "motor": "running"},
            "open",
            "L3",
            None,
            "symmetrical components, negative over positive sequence impedance 0.1",
        ),
        (
            SAGGING,
            "open",
            "cannot tell",
            None,
            "trade text: a running motor holds the open line above 92 % of supply",
        ),
        (
            {**SAGGING, "amps_1": 5.2, "amps_2": 5.0, "amps_3": 0.1},
            "open",
            "L3",
            None,
            "trade text: two currents high, near zero in the lost line",
        ),
    ),
    *of(
        "motor-voltage",
        ({"plate_volts": 460, "volts": 414}, "verdict", "within", None, MG1_12),
        ({"plate_volts": 460, "volts": 413}, "verdict", "low", None, MG1_12),
        ({"plate_volts": 230, "volts": 254}, "verdict", "high", None, MG1_12),
        ({"plate_volts": 230, "volts": 216, "hertz": 57}, "together", 11.087, 0.001, MG1_12),
        ({"plate_volts": 230, "volts": 216, "hertz": 57}, "verdict", "low", None, MG1_12),
        ({"plate_volts": 230, "volts": 230, "hertz": 56.9}, "verdict", "frequency", None, MG1_12),
        ({"plate_volts": 460, "volts": 414, "hertz": 57}, "percent", -10, 1e-9, "by hand"),
        ({"plate_volts": 460, "volts": 414, "hertz": 57}, "hertz_percent", -5, 1e-9, "by hand"),
    ),
    # motor
    *of(
        "motor-load-by-current",
        (
            {"amps": 16.5, "plate_amps": 24, "volts": 460, "plate_volts": 460, "idle_amps": 9.3},
            "load",
            61.2,
            0.1,
            "energy handbook example: 20 hp pump, 16.5 A loaded, 9.3 A idle, 24.0 A plate",
        ),
        (
            {"amps": 24, "plate_amps": 24, "volts": 460, "plate_volts": 460},
            "load",
            100,
            1e-9,
            f"{DOE}: rated current at rated voltage is rated load",
        ),
        (
            {"amps": 6, "plate_amps": 8, "volts": 440, "plate_volts": 460},
            "load",
            100 * 0.75 * 0.956522,
            1e-3,
            f"{DOE}: I/Ir × V/Vr",
        ),
        ({"amps": 16.5, "plate_amps": 24, "volts": 460, "plate_volts": 460}, "plate_share", 68.75, 1e-9, "by hand"),
    ),
    *of(
        "motor-load-by-slip",
        (
            {"rpm": 1775, "plate_rpm": 1750, "volts": 460, "plate_volts": 460},
            "load",
            50,
            1e-9,
            f"{DOE}: at half load the speed is halfway between full-load and synchronous",
        ),
        (
            {"rpm": 1770, "plate_rpm": 1750, "volts": 460, "plate_volts": 460},
            "load",
            60,
            1e-9,
            f"{DOE}: 1800, 1750 and 1770 rpm, 60 %",
            True,
        ),
        (
            {"rpm": 1750, "plate_rpm": 1750, "volts": 460, "plate_volts": 460},
            "load",
            100,
            1e-9,
            f"{DOE}: plate speed at rated voltage is rated load",
        ),
        (
            {"rpm": 1770, "plate_rpm": 1750, "volts": 437, "plate_volts": 460},
            "load",
            60 * 0.9025,
            1e-9,
            f"{DOE}: (V/Vr)² at 95 % voltage",
        ),
        ({"rpm": 1775, "plate_rpm": 1750, "volts": 460, "plate_volts": 460}, "slip", 25, 1e-9, "by hand"),
    ),
    *of(
        "full-load-amps",
        ({"hp": 0.333, "volts": 115}, "amps", 7.2, 0, NEC_248),
        ({"hp": 0.5, "volts": 120}, "amps", 9.8, 0, NEC_248),
        ({"hp": 0.75, "volts": 208}, "amps", 7.6, 0, NEC_248),
        ({"hp": 3, "volts": 240}, "amps", 17, 0, NEC_248),
        ({"hp": 0.5, "volts": 480, "phase": "three"}, "amps", 1.1, 0, NEC_250),
        ({"hp": 1, "volts": 208, "phase": "three"}, "amps", 4.6, 0, NEC_250),
        ({"hp": 3, "volts": 230, "phase": "three"}, "amps", 9.6, 0, NEC_250),
        ({"hp": 10, "volts": 460, "phase": "three"}, "amps", 14, 0, NEC_250),
    ),
    *of(
        "locked-rotor-amps",
        ({"hp": 3, "volts": 460, "letter": "K", "phase": "three"}, "low", 30.12, 0.005, NEC_7B),
        ({"hp": 3, "volts": 460, "letter": "K", "phase": "three"}, "high", 33.85, 0.005, NEC_7B),
        ({"hp": 1, "volts": 230, "letter": "L"}, "low", 39.13, 0.005, NEC_7B),
        ({"hp": 1, "volts": 230, "letter": "L"}, "high", 43.43, 0.005, NEC_7B),
        (
            {"hp": 20, "volts": 460, "letter": "G", "phase": "three"},
            "high",
            158,
            0.2,
            "NEC handbook example: 20 hp, 460 V, letter G, 158 A",
        ),
        ({"hp": 1, "volts": 230, "letter": "V"}, "high", "no upper limit", None, NEC_7B),
    ),
    *of(
        "overload-setting",
        ({"plate_amps": 4.8, "service_factor": 1.15}, "amps", 6.0, 1e-9, NEC_32),
        ({"plate_amps": 4.8}, "amps", 5.52, 1e-9, NEC_32),
        ({"plate_amps": 4.8, "rise": 40}, "percent", 125, 0, NEC_32),
        ({"plate_amps": 4.8, "service_factor": 1.10, "rise": 55}, "percent", 115, 0, NEC_32),
    ),
    *of(
        "winding-temperature",
        (
            {"cold_ohms": 80, "cold_temperature": 20, "hot_ohms": 100},
            "rise",
            63.63,
            0.01,
            "textbook problem: 80 Ω at 20 °C, 100 Ω after 4 h, rise 63.63 °C",
        ),
        (
            {"cold_ohms": 2, "cold_temperature": 20, "hot_ohms": 2.5},
            "temperature",
            83.625,
            1e-9,
            "IEC 60034-1, from memory",
            True,
        ),
        (
            {"cold_ohms": 1, "cold_temperature": 20, "hot_ohms": 1.21615},
            "temperature",
            75,
            0.05,
            "IEC 60028: copper gains 0.393 % a degree from 20 °C",
        ),
        (
            {"cold_ohms": 3.07, "cold_temperature": 75, "hot_ohms": 2.5747},
            "temperature",
            25,
            0.3,
            "NEC chapter 9 table 8, note: 3.07 Ω at 75 °C is 2.574 Ω at 25 °C",
        ),
    ),
    *of(
        "capacitor-value",
        ({"volts": 120, "amps": 10}, "microfarads", 221.049, 5e-4, "electricpy.motorstartcap"),
        ({"volts": 370, "amps": 2.09}, "microfarads", 14.984, 5e-4, "2652.58·I/V at 60 Hz"),
        ({"volts": 240, "amps": 8.3}, "microfarads", 91.7, 0.05, "published field example: 8.3 A, 240 V, 91.7 µF"),
        ({"volts": 240, "amps": 8.3, "hertz": 50}, "microfarads", 110.1, 0.05, "3183·I/V at 50 Hz"),
    ),
    *of(
        "capacitor-check",
        (
            {"microfarads": 91.7, "rated": 90, "tolerance": 6},
            "percent",
            1.9,
            0.05,
            "published field example: 91.7 of 90 µF, 1.9 % over",
        ),
        (
            {"microfarads": 91.7, "rated": 90, "tolerance": 6},
            "verdict",
            "good",
            None,
            "published field example: good within 6 %",
        ),
        (
            {"microfarads": 84, "rated": 90, "tolerance": 6},
            "verdict",
            "weak",
            None,
            "published field table: more than 6 % below is weak",
        ),
        (
            {"microfarads": 150, "rated": 161, "rated_high": 193},
            "verdict",
            "weak",
            None,
            "start capacitors carry a printed range",
            True,
        ),
        ({"microfarads": 91.7, "rated": 90, "tolerance": 6}, "low", 84.6, 1e-9, "by hand"),
        ({"microfarads": 91.7, "rated": 90, "tolerance": 6}, "high", 95.4, 1e-9, "by hand"),
    ),
    *of(
        "brake-coil",
        ({"volts": 24, "watts": 20}, "ohms", 28.8, 1e-9, "R = V²/P worked by hand"),
        ({"volts": 24, "watts": 120}, "ohms", 4.8, 1e-9, "published example: 24 V DC, 4.8 Ω, 120 W"),
        (
            {"volts": 24, "watts": 20, "measured": 40.1},
            "verdict",
            "as expected",
            None,
            "IEC 60028: a coil 100 °C warmer reads 39.3 % more",
        ),
        ({"volts": 24, "watts": 20, "measured": 1e6}, "verdict", "open", None, COMMON),
        ({"volts": 24, "watts": 20}, "amps", 0.83333, 5e-6, "by hand"),
    ),
    *of(
        "duty",
        ({"cycles": 6, "running": 150}, "percent", 25, 1e-9, "IEC 60034-1 S3 25 %: 2.5 min in 10", True),
        ({"cycles": 6, "running": 240}, "percent", 40, 1e-9, "IEC 60034-1 S3 40 %: 4 min in 10", True),
        ({"cycles": 20, "running": 24}, "percent", 13.333, 5e-4, "worked by hand"),
        ({"cycles": 20, "running": 24}, "rest", 156, 1e-9, "worked by hand"),
        ({"cycles": 20, "running": 24}, "percent", 13.3333, 5e-5, "pint: 20 times 24 s an hour"),
        ({"cycles": 6, "running": 90}, "percent", 15, 1e-9, "IEC 60034-1 S3 15 %: 1.5 min in 10", True),
        ({"cycles": 12, "running": 45}, "percent", 15, 1e-9, "pint: 12 times 45 s an hour"),
        ({"cycles": 12, "running": 45}, "rest", 255, 1e-9, "pint: an hour over 12, less 45 s"),
    ),
    *of(
        "rms-current",
        ({"currents": (30, 6), "times": (0.5, 11.5), "period": 60}, "amps", 3.7947, 5e-5, "worked by hand"),
        (
            {"currents": (5, 2), "times": (0.04, 0.04), "period": 0.08},
            "amps",
            3.80789,
            5e-6,
            "numpy, root of the mean square",
        ),
        (
            {"currents": (2,), "times": (150,), "period": 600},
            "amps",
            1.0,
            1e-9,
            "S3 rule of the motor makers: at 25 % duty twice the current heats alike",
        ),
        (
            {"currents": (30, 6), "times": (0.5, 11.5), "period": 60},
            "amps",
            3.7947,
            5e-5,
            "numpy, root of the mean square",
        ),
    ),
    # drive
    *of(
        "chain-data",
        ({"chain": 35}, "pitch", 0.375, 0, B29),
        ({"chain": 35}, "tensile", 1760, 0, B29),
        ({"chain": 41}, "tensile", 1500, 0, B29),
        ({"chain": 41}, "roller", 0.306, 0, B29),
        ({"chain": 40}, "tensile", 3125, 0, B29),
        ({"chain": 60}, "roller", 0.469, 0, B29),
        ({"chain": 80}, "tensile", 12500, 0, "ANSI B29.1 sizes, encyclopaedia table"),
        ({"chain": 40}, "weight", 0.41, 0.01, CHAIN_WEIGHTS),
        ({"chain": 50}, "weight", 0.68, 0.01, CHAIN_WEIGHTS),
    ),
    *of(
        "chain-speed",
        ({"chain": 41, "teeth": 12, "rpm": 40}, "speed", 4.0, 1e-9, f"p·N·n, {B29}"),
        ({"chain": 60, "teeth": 17, "rpm": 300}, "speed", 63.75, 1e-9, f"p·N·n, {B29}"),
        ({"chain": 40, "teeth": 12, "rpm": 40}, "ripple", 3.407, 5e-4, "1 - cos 15°, table of cosines"),
    ),
    *of(
        "chain-travel-time",
        ({"rpm": 40, "reduction": 1, "chain": 41, "teeth": 12, "travel": 120}, "seconds", 30, 1e-9, f"p·N·n, {B29}"),
        (
            {"rpm": 1725, "reduction": 43.125, "chain": 41, "teeth": 12, "travel": 120},
            "seconds",
            30,
            1e-9,
            f"p·N·n, {B29}",
        ),
        ({"rpm": 1800, "reduction": 60, "chain": 50, "teeth": 16, "travel": 150}, "speed", 5.0, 1e-9, f"p·N·n, {B29}"),
    ),
    *of(
        "drum-travel-time",
        ({"rpm": 36, "reduction": 1, "diameter": 4, "travel": 84}, "speed", 7.540, 5e-4, "2πrn worked by hand"),
        ({"rpm": 36, "reduction": 1, "diameter": 4, "travel": 84}, "seconds", 11.141, 5e-4, "2πrn worked by hand"),
        (
            {"rpm": 1800, "reduction": 60, "diameter": 5.5, "travel": 86.394},
            "seconds",
            10.0,
            1e-4,
            "pint: 30 rpm of a 5.5 in drum is 8.6394 in/s",
        ),
        ({"rpm": 36, "reduction": 1, "diameter": 4, "travel": 84}, "speed", 7.53982, 5e-6, PINT_DRUM),
        ({"rpm": 1725, "reduction": 57.5, "diameter": 6, "travel": 96}, "speed", 9.42478, 5e-6, PINT_DRUM),
    ),
    *of(
        "sprocket-pitch-diameter",
        ({"chain": 40, "teeth": 9}, "diameter", 1.462, 5e-4, SPROCKETS),
        ({"chain": 40, "teeth": 12}, "diameter", 1.932, 5e-4, SPROCKETS),
        ({"chain": 40, "teeth": 15}, "diameter", 2.405, 5e-4, SPROCKETS),
        ({"chain": 40, "teeth": 20}, "diameter", 3.196, 5e-4, SPROCKETS),
        ({"chain": 50, "teeth": 17}, "diameter", 3.40137, 5e-6, B29),
        ({"chain": 35, "teeth": 9}, "diameter", 1.09643, 5e-6, B29),
    ),
    *of(
        "chain-length",
        (
            {"centres": 20, "chain": 40, "large": 32, "small": 15},
            "pitches",
            103.683,
            5e-4,
            "handbook formula worked by hand",
        ),
        (
            {"centres": 20, "chain": 40, "large": 32, "small": 15},
            "links",
            104,
            0,
            "handbook formula, up to an even number",
        ),
        (
            {"centres": 20, "chain": 40, "large": 32, "small": 15},
            "pitches",
            103.683,
            0.01,
            "exact: tangents of the pitch circles and teeth in mesh",
        ),
        (
            {"centres": 10, "chain": 50, "large": 17, "small": 17},
            "pitches",
            49,
            1e-9,
            "like sprockets: twice the centres and one sprocket",
        ),
        ({"centres": 20, "chain": 40, "large": 32, "small": 15}, "length", 52, 1e-9, f"{B29}: 104 pitches of 0.5 in"),
    ),
    *of(
        "chain-tension",
        ({"weight": 0.42, "span": 10, "sag": 3}, "tension", 21.0, 1e-9, "T = wL²/8s worked by hand"),
        ({"weight": 0.42, "span": 10, "sag": 3}, "tension", 21.0175, 0.03, CATENARY),
        ({"weight": 0.42, "span": 10, "sag": 12}, "tension", 5.3189, 0.08, CATENARY),
        (
            {"weight": 0.42, "span": 10, "sag": 6, "reading": "movement"},
            "tension",
            21.0,
            1e-9,
            "movement is twice the sag (chain handbooks)",
        ),
        (
            {"weight": 0.42, "span": 10, "sag": 6, "reading": "movement"},
            "sag",
            3,
            1e-9,
            "movement is twice the sag (chain handbooks)",
        ),
        ({"weight": 0.42, "span": 10, "sag": 6, "reading": "movement"}, "movement", 6, 1e-9, "by hand"),
        ({"weight": 0.42, "span": 10, "sag": 6, "reading": "movement"}, "percent", 5, 1e-9, "by hand: 6 in of 120"),
    ),
    *of(
        "chain-sag",
        ({"weight": 0.42, "span": 10, "tension": 21}, "sag", 3.0, 1e-9, "T = wL²/8s worked by hand"),
        ({"weight": 0.42, "span": 10, "tension": 21.0175}, "sag", 3.0, 0.01, CATENARY),
        ({"weight": 0.42, "span": 10, "tension": 5.3189}, "sag", 12.0, 0.2, CATENARY),
        ({"weight": 0.68, "span": 8, "tension": 27.2211}, "sag", 2.4, 0.01, CATENARY),
        (
            {"weight": 0.42, "span": 10, "tension": 21},
            "movement",
            6,
            1e-9,
            "movement is twice the sag (chain handbooks)",
        ),
    ),
    *of(
        "sag-from-slack",
        ({"span": 10, "slack": 0.2}, "sag", 3.0, 1e-9, "ΔL = 8s²/3L worked by hand"),
        ({"span": 10, "slack": 0.19976}, "sag", 3.0, 0.01, CATENARY),
        ({"span": 10, "slack": 3.14242}, "sag", 12.0, 0.15, CATENARY),
        ({"span": 8, "slack": 0.15982}, "sag", 2.4, 0.01, CATENARY),
        ({"span": 10, "slack": 0.2}, "movement", 6, 1e-9, "movement is twice the sag (chain handbooks)"),
    ),
    *of(
        "slack-from-sag",
        ({"span": 10, "sag": 3}, "slack", 0.2, 1e-9, "ΔL = 8s²/3L worked by hand"),
        ({"span": 10, "sag": 3}, "slack", 0.19976, 0.001, CATENARY),
        ({"span": 10, "sag": 12}, "slack", 3.14242, 0.07, CATENARY),
        ({"span": 8, "sag": 2.4}, "slack", 0.15982, 0.001, CATENARY),
    ),
    *of(
        "chain-wear",
        ({"chain": 40, "pitches": 12, "length": 6.09}, "percent", 1.5, 1e-9, WEAR),
        ({"chain": 40, "pitches": 12, "length": 6.09}, "verdict", "keep", None, WEAR),
        ({"chain": 40, "pitches": 12, "length": 6.09, "centres": "fixed"}, "verdict", "replace", None, WEAR),
        ({"chain": 40, "pitches": 12, "length": 6.18}, "verdict", "replace", None, WEAR),
        (
            {"chain": 80, "pitches": 24, "length": 24.75},
            "verdict",
            "replace",
            None,
            "chain seller's example: 24 pitches of No. 80 at 24.75 in are done",
        ),
        ({"chain": 40, "pitches": 12, "length": 6.0, "large": 80}, "limit", 2.5, 1e-9, WEAR),
        ({"chain": 40, "pitches": 12, "length": 6.0}, "replace_at", 6.18, 1e-9, WEAR),
    ),
    *of(
        "links-to-remove",
        ({"slack": 1.0, "chain": 40, "take_up_left": 1}, "links", 2, 0, f"{B29}: pitch 0.5 in"),
        ({"slack": 1.3, "chain": 50, "take_up_left": 1}, "take_up", 0.025, 1e-9, f"{B29}: pitch 0.625 in"),
        ({"slack": 0.9, "chain": 40, "take_up_left": 1, "step": 1}, "links", 1, 0, f"{B29}: pitch 0.5 in"),
        (
            {"slack": 0.6, "chain": 40, "take_up_left": 0.1, "take_up_used": 0.5},
            "take_up",
            -0.2,
            1e-9,
            f"{B29}: two pitches of 0.5 in are 0.4 in more than the slack, 0.2 in each strand",
        ),
        ({"slack": 1.3, "chain": 50, "take_up_left": 1}, "take_up_left", 0.975, 1e-9, f"{B29}: pitch 0.625 in"),
        ({"slack": 1.3, "chain": 50, "take_up_left": 1}, "verdict", "remove links", None, f"{B29}: pitch 0.625 in"),
    ),
    *of(
        "drum-turns",
        ({"height": 84, "diameter": 4}, "turns", 6.6845, 5e-5, "84 in over 4π in, by hand"),
        ({"height": 84, "diameter": 4}, "per_turn", 12.5664, 5e-5, "4π, table of circumferences"),
        ({"height": 96, "diameter": 5.25}, "per_turn", 16.4934, 5e-5, "pint: 1 turn of 5.25 in"),
        ({"height": 84, "diameter": 4}, "turns", 6.684508, 5e-7, "pint: 84 in of a 4 in drum"),
    ),
    *of(
        "drum-size-error",
        (
            {"set_diameter": 4, "fitted_diameter": 5, "travel": 84},
            "error",
            21,
            1e-9,
            "ratio of circumferences, by hand",
        ),
        (
            {"set_diameter": 12, "fitted_diameter": 13, "travel": 120},
            "percent",
            8.3333,
            5e-5,
            f"{B29}: 13 teeth lay down 13/12 of what 12 do",
        ),
        (
            {"set_diameter": 12.5664, "fitted_diameter": 11.781, "travel": 84},
            "reached",
            78.75,
            1e-3,
            "table of circumferences: 4 in and 3¾ in",
        ),
        (
            {"set_diameter": 4, "fitted_diameter": 4.5, "travel": 84},
            "reached",
            94.5,
            1e-9,
            "pint: same turns, 4.5 in drum",
        ),
    ),
    # counterbalance
    *of(
        "door-balance",
        (PULLS, "worst", -9.014, 1e-9, STATICS),
        (PULLS, "friction", 12, 1e-9, STATICS),
        (PULLS, "trend", -1.2877, 1e-4, "numpy.polyfit on the same balances"),
        (PULLS, "verdict", "stays put", None, "friction 12 lbf exceeds every balance"),
        ({**PULLS, "capacity": 50}, "share", 18.028, 1e-3, STATICS),
        (PULLS, "worst", -9.014, 1e-9, "numpy.linalg.solve, balance and friction from the two pulls"),
        (PULLS, "friction", 12, 1e-9, "numpy.linalg.solve, balance and friction from the two pulls"),
        (PULLS, "worst_height", 84, 0, STATICS),
    ),
    *of(
        "balance-force",
        ({**BALANCED, "at_height": 21}, "force", -2.254, 5e-4, STATICS),
        ({**BALANCED, "at_height": 42}, "force", -4.507, 5e-4, STATICS),
        ({**BALANCED, "at_height": 84}, "force", -9.014, 5e-4, STATICS),
        ({**BALANCED, "at_height": 0}, "force", 0.0, 1e-4, STATICS),
        ({**BALANCED, "at_height": 21}, "force", -2.2535, 5e-4, ENERGY),
        ({**BALANCED, "at_height": 42}, "force", -4.5070, 5e-4, ENERGY),
        ({**BALANCED, "at_height": 84}, "force", -9.0141, 5e-4, ENERGY),
        ({**BALANCED, "at_height": 21}, "weight_carried", 150, 1e-9, STATICS),
        ({**BALANCED, "at_height": 21}, "torque", 304.507, 5e-4, STATICS),
    ),
    *of(
        "spring-rate",
        (COIL, "rate", 45.814, 5e-4, SPRING),
        (COIL, "theory", 48.576, 5e-4, "E·d⁴·2π/(64·D·N), beam theory"),
        (
            {"wire": 0.035, "mean": 0.465, "coils": 3, "modulus": 30e6},
            "rate",
            2.988,
            5e-4,
            "spring maker's worked example: music wire, 2.988 in·lbf a turn",
        ),
        (
            {"wire": 2 / 25.4, "mean": 20 / 25.4, "coils": 5, "modulus": 207e9 / 6894.757},
            "rate",
            3066.67 / 112.98483,
            1e-3,
            "published example: 207 GPa, 2 mm, 20 mm, 5 coils, 3066.67 N·mm a turn",
        ),
        ({"wire": 0.207, "mean": 2.207, "coils": 120, "modulus": 30e6}, "rate", 19.257, 5e-4, SPRING),
        (COIL, "coil_index", 9, 1e-9, "by hand"),
    ),
    *of(
        "spring-bending-factor",
        ({"wire": 0.25, "mean": 2.25}, "factor", 1.09028, 5e-6, "Wahl, C 9, by hand"),
        ({"wire": 0.25, "mean": 2.25}, "factor", 1.0904, 5e-4, CURVED),
        ({"wire": 0.25, "mean": 2.0}, "factor", 1.1026, 5e-4, CURVED),
        ({"wire": 0.25, "mean": 1.0}, "factor", 1.2288, 1e-3, CURVED),
    ),
    *of(
        "spring-match",
        ({**DOOR, "wire": 0.25, "inside": 2.0, "coils": 100}, "given", 7 * 45.814, 5e-3, SPRING),
        ({**DOOR, "wire": 0.25, "inside": 2.0, "coils": 100}, "needed", 400, 1e-9, STATICS),
        (
            {**DOOR, "wire": 0.25, "inside": 2.0, "coils": 100},
            "verdict",
            "weak",
            None,
            f"{SPRING}: 320.7 of 400 in·lbf",
        ),
        (
            {**DOOR, "door_weight": 320, "wire": 0.25, "inside": 2.0, "coils": 100, "springs": 2},
            "share",
            100.22,
            5e-3,
            f"{SPRING}: two springs, 641.4 of 640 in·lbf",
        ),
        (MAKERS_SPRING, "given", 14.94, 3e-3, "spring maker's worked example, 2.988 in·lbf a turn, five turns"),
        (MAKERS_SPRING, "share", 100, 0.05, "the same example on a 10 lb load at 1.494 in"),
        (MAKERS_SPRING, "verdict", "matches", None, "the same example: five turns of drum, five of spring"),
        ({**MAKERS_SPRING, "turns": 6}, "share", 120, 0.05, "the same example with six turns"),
        (MAKERS_SPRING, "rate_share", 100, 0.05, "the same example: five turns of drum, five of spring"),
    ),
    *of(
        "spring-energy",
        ({"rate": 57.142857, "turns": 7}, "energy", 8796, 0.5, STATICS),
        ({"rate": 57.142857, "turns": 7}, "joules", 994, 0.5, "pint: 8796 in·lbf"),
        ({"rate": 57.142857, "turns": 7}, "torque", 400, 1e-4, STATICS),
        ({"rate": 57.142857, "turns": 7}, "energy", 8796.459, 1e-3, "scipy.integrate.quad of torque over angle"),
        ({"rate": 45.814, "turns": 7.5}, "energy", 8096.002, 1e-2, "scipy.integrate.quad of torque over angle"),
        ({"rate": 45.814, "turns": 7.5}, "joules", 914.725, 1e-2, "scipy.integrate.quad, pint"),
        ({"rate": 57.142857, "turns": 7}, "drop", 7.3304, 5e-4, "by hand: 8796 in·lbf over 100 lb"),
    ),
    # limits
    *of(
        "linear-trend",
        ({"x": NORRIS_X, "y": NORRIS_Y}, "slope", 1.00211681802045, 1e-12, NORRIS),
        ({"x": NORRIS_X, "y": NORRIS_Y}, "intercept", -0.262323073774029, 1e-11, NORRIS),
        ({"x": NORRIS_X, "y": NORRIS_Y}, "slope_error", 0.429796848199937e-3, 1e-15, NORRIS),
        ({"x": NORRIS_X, "y": NORRIS_Y}, "residual_sd", 0.884796396144373, 1e-12, NORRIS),
        (
            {"x": range(60, 71), "y": range(130, 141), "through_origin": "yes"},
            "slope",
            2.07438016528926,
            1e-13,
            "NIST StRD NoInt1, certified",
        ),
        (
            {"x": (4, 5, 6), "y": (3, 4, 4), "through_origin": "yes"},
            "slope",
            0.727272727272727,
            1e-14,
            "NIST StRD NoInt2, certified",
        ),
        (FIVE, "slope", 0.8384, 5e-5, "textbook regression problem, five points"),
        (FIVE, "slope_error", 0.1516, 5e-5, "textbook regression problem, five points"),
        (FIVE, "t", 5.53, 5e-3, "textbook regression problem, five points"),
        (FIVE, "p", 0.0116, 1e-4, "textbook regression problem, five points"),
        ({"x": NORRIS_X, "y": NORRIS_Y}, "sse", 26.6173985294224, 1e-11, f"{NORRIS}: 34 times the residual variance"),
    ),
    *of(
        "best-step",
        ({"stops": NILE_FLOWS}, "after", 28, 0, NILE),
        ({"stops": NILE_FLOWS}, "jump", 849.97 - 1097.75, 5e-3, NILE),
        ({"stops": JUMP}, "sse", 0.00104, 5e-6, "numpy, two means"),
        ({"stops": SLIP}, "sse", 0.05392, 5e-6, "numpy, two means"),
        ({"stops": JUMP}, "median_step", 0.01, 1e-9, "numpy.median of the differences"),
        ({"stops": JUMP}, "p", 1.50617e-11, 1e-15, "scipy.stats.ttest_ind times the seven places"),
    ),
    *of(
        "readings-needed",
        ({"scatter": 0.05, "slip": 0.05}, "readings", 6, 0, NCT),
        ({"scatter": 0.05, "slip": 0.02}, "readings", 10, 0, NCT),
        ({"scatter": 0.05, "slip": 0.005}, "readings", 22, 0, NCT),
        ({"scatter": 0.05, "slip": 0.05}, "power", 87.1828, 5e-4, NCT),
    ),
    *of(
        "stop-drift",
        ({"stops": SLIP}, "kind", "steady slip", None, "scipy.stats.linregress: p 1e-9; line beats step 27-fold"),
        ({"stops": SLIP}, "slope", 0.052667, 5e-7, "scipy.stats.linregress"),
        ({"stops": SLIP}, "t", 30.458, 5e-4, "scipy.stats.linregress"),
        ({"stops": JUMP}, "kind", "one-off jump", None, "two means leave 143 times less than the line"),
        ({"stops": JUMP}, "p", 0.00099, 5e-6, "scipy.stats.linregress"),
        ({"stops": STILL}, "kind", "plain scatter", None, "scipy.stats.linregress: p 0.974"),
        ({"stops": STILL}, "t", -0.0341, 5e-5, "scipy.stats.linregress"),
        ({"stops": NILE_FLOWS, "step": 1, "matters": 10}, "kind", "one-off jump", None, NILE),
        ({"stops": NILE_FLOWS, "step": 1, "matters": 10}, "jump_after", 28, 0, NILE),
        ({"stops": SLIP}, "slope_error", 0.001729, 5e-7, "scipy.stats.linregress"),
        ({"stops": JUMP}, "jump", 0.498, 1e-9, "numpy, two means"),
        (WARMED, "kind", "follows temperature", None, "made to move 0.02 in a degree"),
        (WARMED, "temperature_slope", 0.020193, 5e-7, "scipy.stats.linregress on temperature"),
        ({"stops": SLIP}, "more", 0, 0, "a plain answer needs no more"),
    ),
    # photo eyes
    *of(
        "beam-offset",
        ({"span": 20, "angle": 1}, "offset", 4.189, 5e-4, TANGENT),
        ({"span": 16, "angle": 2}, "offset", 6.705, 5e-4, TANGENT),
        ({"span": 10, "angle": 45}, "offset", 120, 1e-9, "tan 45° is 1"),
    ),
    *of(
        "beam-angle",
        ({"span": 16, "offset": 0.5}, "angle", 0.1492, 5e-5, TANGENT),
        ({"span": 20, "offset": 4.189}, "angle", 1.0, 1e-4, TANGENT),
        ({"span": 83.3333, "offset": 1}, "angle", 0.0573, 5e-5, "one milliradian is 0.0573°"),
    ),
    *of(
        "beam-width",
        ({"span": 16, "half_angle": 2}, "width", 13.410, 5e-4, TANGENT),
        ({"span": 20, "half_angle": 1}, "width", 8.378, 5e-4, TANGENT),
        ({"span": 10, "half_angle": 45, "lens": 1}, "width", 241, 1e-9, "tan 45° is 1"),
    ),
    *of(
        "beam-gap",
        ({"distance": 20, "transmitter": 2, "receiver": 4}, "gap", 12.578, 5e-4, TANGENT),
        ({"distance": 20, "transmitter": 8, "receiver": 4, "aim": 0}, "gap", 16.782, 5e-4, TANGENT),
        (
            {"distance": 20, "transmitter": 8, "receiver": 4, "aim": 1},
            "angle",
            5,
            1e-9,
            "the narrower cone and the aim",
        ),
    ),
    *of(
        "beam-loss",
        ({"near": 10, "far": 20}, "loss", 6.0206, 5e-5, "inverse square: 6.02 dB a doubling"),
        ({"near": 4, "far": 40}, "loss", 20, 1e-9, "inverse square: 20 dB a decade"),
        ({"near": 10, "far": 20}, "share", 25, 1e-9, "inverse square: a quarter at twice the range"),
    ),
    *of(
        "far-end-volts",
        ({"near_volts": 12, "gauge": 22, "run": 100, "amps": 0.06}, "drop", 0.1937, 1e-4, IACS),
        ({"near_volts": 24, "gauge": 22, "run": 300, "amps": 0.1}, "drop", 0.9686, 3e-4, IACS),
        ({"near_volts": 12, "gauge": 22, "run": 100, "amps": 0.06}, "loop", 3.229, 1e-3, IACS),
        (
            {"near_volts": 24, "gauge": 16, "run": 100, "amps": 4, "temperature": 75, "strand": "stranded"},
            "far_volts",
            20.0,
            0.03,
            "electricians' training text: No. 16, 100 ft, 4 A, 4.0 V by table 8",
        ),
    ),
    *of(
        "longest-loop-run",
        ({"near_volts": 12, "needed_volts": 10.5, "gauge": 22, "amps": 0.06}, "run", 774.3, 0.2, IACS),
        ({"near_volts": 24, "needed_volts": 23.0314, "gauge": 22, "amps": 0.1}, "run", 300, 0.1, IACS),
        (
            {"near_volts": 24, "needed_volts": 20, "gauge": 16, "amps": 4, "temperature": 75, "strand": "stranded"},
            "run",
            100,
            0.6,
            "electricians' training text: No. 16, 100 ft, 4 A, 4.0 V by table 8",
        ),
    ),
    # radio
    *of(
        "dbm-to-milliwatts",
        ({"level": -67}, "milliwatts", 1.99526e-7, 1e-12, "pint, dBm to mW"),
        ({"level": 30}, "milliwatts", 1000, 1e-9, "definition: 30 dBm is one watt"),
        ({"level": 3}, "milliwatts", 1.995, 5e-4, "3 dB is nearly a doubling"),
    ),
    *of(
        "milliwatts-to-dbm",
        ({"milliwatts": 1.99526e-7}, "level", -67, 1e-4, "pint, mW to dBm"),
        ({"milliwatts": 1000}, "level", 30, 1e-9, "definition: one watt is 30 dBm"),
        ({"milliwatts": 100}, "level", 20, 1e-9, "definition: 100 mW is 20 dBm"),
    ),
    *of(
        "free-space-loss",
        ({"megahertz": 2437, "metres": 10}, "loss", 60.18489, 5e-5, "pycraf.conversions.free_space_loss"),
        ({"megahertz": 5180, "metres": 10}, "loss", 66.734, 1e-3, P525),
        ({"megahertz": 2400, "metres": 100}, "loss", 80.052, 1e-3, P525),
        ({"megahertz": 2400, "metres": 5000}, "loss", 114.02, 0.02, LINK),
        ({"megahertz": 5800, "metres": 5000}, "loss", 121.69, 0.02, LINK),
        ({"megahertz": 5800, "metres": 10_000}, "loss", 127.71, 0.02, LINK),
    ),
    *of(
        "indoor-loss",
        ({"megahertz": 2400, "metres": 10}, "loss", 69.604, 5e-4, P1238),
        ({"megahertz": 2400, "metres": 10, "floors": 1}, "loss", 83.604, 5e-4, P1238),
        ({"megahertz": 5200, "metres": 10}, "loss", 77.320, 5e-4, P1238),
        ({"megahertz": 2000, "metres": 10, "floors": 2}, "loss", 66.021 + 30 + 19 - 28, 5e-4, NS3),
        (
            {"megahertz": 2000, "metres": 10, "floors": 2, "building": "commercial"},
            "loss",
            66.021 + 22 + 9 - 28,
            5e-4,
            NS3,
        ),
        (
            {"megahertz": 2000, "metres": 10, "floors": 2, "building": "residential"},
            "loss",
            66.021 + 28 + 8 - 28,
            5e-4,
            NS3,
        ),
        ({"megahertz": 2400, "metres": 10}, "coefficient", 30, 0, P1238),
    ),
    *of(
        "site-loss",
        ({"megahertz": 2437, "metres": 20, "site": "industrial in sight"}, "loss", 62.543, 5e-4, P1238_11),
        ({"megahertz": 2437, "metres": 20, "site": "industrial out of sight"}, "loss", 75.503, 5e-4, P1238_11),
        ({"megahertz": 2437, "metres": 20, "site": "office out of sight"}, "loss", 70.742, 5e-4, P1238_11),
        ({"megahertz": 1000, "metres": 10, "site": "corridor in sight"}, "loss", 44.42, 1e-9, P1238_11),
        ({"megahertz": 1000, "metres": 10, "site": "office in sight"}, "loss", 49.22, 1e-9, P1238_11),
        ({"megahertz": 2437, "metres": 20, "site": "corridor out of sight"}, "spread", 7.63, 0, P1238_11),
        (
            {"megahertz": 2437, "metres": 20, "site": "industrial in sight"},
            "bad_case",
            62.543 + 1.28155 * 2.69,
            1e-3,
            P1238_11,
        ),
    ),
    *of(
        "signal-margin",
        (
            {"power": 23, "loss": 121.69, "sensitivity": -72, "transmit_gain": 24, "receive_gain": 24},
            "level",
            -50.69,
            1e-9,
            LINK,
        ),
        (
            {"power": 23, "loss": 121.69, "sensitivity": -72, "transmit_gain": 24, "receive_gain": 24},
            "margin",
            21.31,
            1e-9,
            LINK,
        ),
        (
            {"power": 20, "loss": 69, "sensitivity": -80, "transmit_gain": 2, "receive_gain": 2},
            "level",
            -45,
            1e-9,
            "published exam question: 20 - 2 + 4 - 69 + 4 - 2 dB",
        ),
    ),
    *of(
        "signal-grade",
        ({"level": -67}, "grade", "good", None, COMMON),
        ({"level": -75}, "grade", "fair", None, COMMON),
        ({"level": -80}, "grade", "poor", None, COMMON),
        ({"level": -81}, "grade", "too weak", None, COMMON),
        ({"level": -70}, "spare", -3, 1e-9, COMMON),
    ),
    *of(
        "channel-centre",
        ({"channel": 1}, "megahertz", 2412, 0, IEEE_CHANNELS),
        ({"channel": 6}, "megahertz", 2437, 0, IEEE_CHANNELS),
        ({"channel": 11}, "megahertz", 2462, 0, IEEE_CHANNELS),
        ({"channel": 14}, "megahertz", 2484, 0, IEEE_CHANNELS),
        ({"channel": 36, "band": "5"}, "megahertz", 5180, 0, IEEE_CHANNELS),
    ),
    *of(
        "channel-overlap",
        ({"first": 1, "second": 6}, "overlap", 0, 0, "channels 1, 6 and 11 do not overlap"),
        ({"first": 1, "second": 5, "width": 22}, "overlap", 2, 0, "published: 1 and 5 share 2 MHz at 22 MHz"),
        ({"first": 1, "second": 5}, "overlap", 0, 0, "published: 1 and 5 are clear at 20 MHz"),
        ({"first": 6, "second": 4, "width": 22}, "overlap", 12, 0, "published spans: 2426-2448 and 2416-2438 MHz"),
        ({"first": 1, "second": 5, "width": 22}, "percent", 9.0909, 5e-5, "by hand: 2 of 22 MHz"),
        ({"first": 1, "second": 5, "width": 22}, "apart", 20, 0, IEEE_CHANNELS),
    ),
    # door
    *of(
        "timer-close-time",
        ({"dwell": 0, "travel": 120, "speed": 6}, "travel_time", 20, 1e-9, CFR_FIRE, True),
        ({"dwell": 0, "travel": 120, "speed": 24}, "travel_time", 5, 1e-9, CFR_FIRE, True),
        (
            {"dwell": 30, "travel": 120, "speed": 4, "warning": 5},
            "total",
            65,
            1e-9,
            "41 chain on 12 teeth at 40 rpm moves 4 in/s (ASME B29.1); 16 CFR 1211.14, 5 s",
        ),
        ({"dwell": 10, "travel": 84, "speed": 7.54}, "travel_time", 11.141, 5e-4, "2πrn worked by hand"),
        ({"dwell": 60, "travel": 39.37008, "speed": 3.937008}, "total", 70, 1e-6, "pint: 1 m at 100 mm/s"),
        ({"dwell": 60, "travel": 144, "speed": 12}, "total", 72, 1e-9, "pint: 12 ft at 60 ft/min"),
    ),
    *of(
        "cycles-per-day",
        ({"first": 0, "last": 10_000, "days": 2500}, "per_day", 4, 1e-9, LIFE),
        ({"first": 2000, "last": 12_000, "days": 5000}, "per_day", 2, 1e-9, LIFE),
        ({"first": 0, "last": 10_000, "days": 2500}, "per_year", 1460, 1e-9, LIFE),
    ),
    *of(
        "door-life",
        ({"per_day": 4, "rated": 10_000}, "years_left", 6.8, 0.06, LIFE),
        ({"per_day": 2, "rated": 10_000}, "years_left", 13.7, 0.05, LIFE),
        ({"per_day": 6, "rated": 10_000}, "years_left", 4.6, 0.05, LIFE),
        ({"per_day": 40, "rated": 10_000, "days_a_year": 250}, "per_year", 10_000, 1e-9, "250 working days a year"),
        ({"per_day": 4, "rated": 10_000, "so_far": 5000}, "used", 50, 1e-9, "by hand"),
    ),
    *of(
        "spring-life",
        ({"years": 0, "per_day": 4}, "lasts", 6.8, 0.06, LIFE),
        ({"years": 13.7, "per_day": 2}, "used", 100, 0.1, LIFE),
        ({"years": 4.6, "per_day": 6}, "used", 100, 1.0, LIFE),
        ({"years": 5, "per_day": 4}, "cycles", 7300, 1e-9, "by hand"),
    ),
]
