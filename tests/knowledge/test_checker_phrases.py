"""Patterns of wording: what they find, what they leave alone, and that the list that ships finds what it is for."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.knowledge.model import Trees
from diagnose.knowledge.phrases import found_in, pattern, plain


@pytest.mark.parametrize(
    ("written", "text", "found"),
    [
        ("bypass*", "Do not bypass it.", "bypass"),
        ("bypass*", "BYPASSING", "bypassing"),
        ("bypass*", "A by-pass", ""),
        ("by pass*", "A by-pass", "by pass"),
        ("tape|taped over", "the lens taped over", "taped over"),
        ("tape over", "tape it over", ""),
        ("prop* ... eye|edge", "Prop something under the eye.", "prop something under the eye"),
        ("prop* ... eye", "Prop it. Then see the eye.", ""),
        ("prop* ... eye", "prop one two three four five six seven eye", "prop one two three four five six seven eye"),
        ("prop* ... eye", "prop one two three four five six seven eight eye", ""),
        ("wipe", "swiped wipes", ""),
        ("hand, foot", "hand, foot", "hand, foot"),
        ("hand foot", "hand, foot", "hand, foot"),
    ],
)
def test_finds_a_wording(written: str, text: str, found: str) -> None:
    assert found_in(text, [written]) == found


def test_unless_excuses_only_itself() -> None:
    assert found_in("Never bridge it.", ["bridge"], ["never bridge"]) == ""
    assert found_in("Never bridge it, or bridge it well.", ["bridge"], ["never bridge"]) == "bridge"
    # What is excused is no way past it either.
    assert found_in("prop it never bridge the eye", ["prop ... eye"], ["never bridge"]) == ""


@given(st.text(max_size=40), st.text(max_size=80))
def test_any_text_is_a_pattern_and_can_be_searched(written: str, text: str) -> None:
    match = pattern(written).search(plain(text))
    assert match is None or match[0] in plain(text)


DEFEATS = [
    "Bypass the eye and see whether it closes.",
    "Fit a jumper across the two terminals.",
    "Put a jumper on and run the door.",
    "Bridge the terminals of the edge with a wire.",
    "Short out the eye's pair.",
    "Tape over the lens while testing.",
    "Hold the eye clear with a strap until the new one comes.",
    "Hold off the edge while it closes.",
    "Wedge the button in.",
    "Prop the interlock switch closed with a stick.",
    "Tie the stop button back.",
    "Disable the eye in the settings.",
    "Turn off the photo eye until the part comes.",
    "Switch the monitoring off.",
    "Override the safety edge.",
    "Trick the operator into seeing an eye.",
    "Temporarily remove the edge's plug.",
    "Unplug the eye and run the door from the station.",
    "Run the door without the photo eyes for a day.",
    "Leave the eye unplugged and close it.",
    "Mount both eyes face to face on the ceiling, the pair together.",
    "Ignore the sensor fault.",
    "Fit a dummy in place of the device.",
    "Turn the closing force up higher until it shuts.",
    "Push the contactor in by hand.",
    "Defeat the interlock for the moment.",
]
WINDS = [
    "Wind the spring a quarter turn.",
    "Add a turn to the spring.",
    "Loosen the set screws of the winding cone.",
    "Unwind the torsion springs first.",
    "Put the winding bars in.",
    "Take half a turn off the spring.",
    "Tighten the screws on the spring cone.",
]
CALLERS = [
    "Climb up and look at the motor.",
    "Get up on a chair so that you can see it.",
    "Open the cover of the box beside the motor.",
    "Touch the motor: is it hot?",
    "Put your hand on the box.",
    "Reach behind the sensor.",
    "Unplug it and plug it back in.",
    "Pull the red cord.",
    "Reset the breaker.",
    "Wipe the lens of the eye.",
    "Press the strip at the bottom of the door.",
    "Walk under the door while it closes.",
    "Wave your hand through the beam while it closes.",
    "Lift the door by hand.",
    "Close the door with somebody standing near.",
    "Hold the cable.",
]
CALLERS_IN_SPANISH = [
    "Súbase a una silla y mire el motor.",
    "Abra la tapa de la caja.",
    "¿Está caliente? Toque el motor.",
    "Desconecte el sensor y vuelva a probar.",
    "Jale el cordón rojo.",
    "Meta la mano detrás del sensor.",
    "Levante la puerta con las manos.",
    "Limpie los lentes de los sensores.",
    "Tape el sensor con cinta.",
    "Use la puerta sin el sensor.",
]
HARMLESS_IN_SPANISH = [
    "Mire hacia arriba sin subirse. ¿Hay un riel largo desde la puerta hasta una caja bajo el techo?",
    "No la haga funcionar, no la levante ni jale el cordón para soltarla.",
    "Que nadie toque la puerta, sus partes de metal ni ninguna caja o botón.",
    "¿La lucecita está fija, parpadea o está apagada?",
]
HARMLESS = [
    "Door held. Pull the strip straight in its channel and see that it springs back along its whole length.",
    "Measure across the bridge rectifier.",
    "Insulation of the motor winding to ground.",
    "Leaf propped its whole length so that it cannot fall.",
    "Read the resistance of the winding within half a minute of a stop.",
    "One short press of close, from the station, in sight of the door.",
    "With the power locked off, unplug one monitored device; restore the power and command a close by one short press.",
]
HARMLESS_TO_CALLERS = [
    "Look up without climbing. Is there a long rail from the door to a box?",
    "Do not wipe or touch them. Is there mud, water, frost or a web on them?",
    "When the door is shut, does the rubber at the bottom touch the floor all along?",
    "Is the door made of big hinged panels, or of narrow slats that roll up?",
    "Low down beside the door is a small box on each side with a light in it. Is each one steady, blinking, or off?",
    "Does it close when you hold the button in?",
]


def _stumbles(trees: Trees, text: str, where: str) -> bool:
    return any(
        found_in(text, phrase.words, phrase.unless) for phrase in trees.phrases.values() if phrase.where == where
    )


@pytest.mark.parametrize("text", [*DEFEATS, *WINDS])
def test_what_must_not_be_said_is_found(shipped_trees: Trees, text: str) -> None:
    assert _stumbles(shipped_trees, text, "anywhere")


@pytest.mark.parametrize("text", [*CALLERS, *CALLERS_IN_SPANISH])
def test_what_a_caller_must_not_be_asked_is_found(shipped_trees: Trees, text: str) -> None:
    assert _stumbles(shipped_trees, text, "caller")


@pytest.mark.parametrize("text", HARMLESS)
def test_harmless_wording_is_left_alone(shipped_trees: Trees, text: str) -> None:
    assert not _stumbles(shipped_trees, text, "anywhere")


@pytest.mark.parametrize("text", [*HARMLESS_TO_CALLERS, *HARMLESS_IN_SPANISH])
def test_harmless_questions_to_a_caller_are_left_alone(shipped_trees: Trees, text: str) -> None:
    assert not _stumbles(shipped_trees, text, "caller")
    assert not _stumbles(shipped_trees, text, "anywhere")
