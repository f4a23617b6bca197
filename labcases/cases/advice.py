"""What is told to everybody who asks, and to everybody who posts a medium. Common practice of the trade, no source.

Each table maps the value a form ticks to the sentence that is read out, kept and printed.

>>> in_words(["stop", "magnets"], "Come before Friday.")
'Stop using it, and leave it switched off.\\nKeep it away from magnets and heat.\\nCome before Friday.'
"""

from __future__ import annotations

from collections.abc import Iterable

ADVICE = {  # to whoever asks, in the order in which it is read out
    "stop": "Stop using it, and leave it switched off.",
    "leave": "Do not format, repair, freeze, open or clean it.",
    "run": "Do not run any program on it, and do not reinstall anything.",
    "wet": "If it got wet: no power, no drying. Seal it in a bag while it is damp and bring it.",
    "pad": "Pack it padded, so that nothing in the box can move.",
    "magnets": "Keep it away from magnets and heat.",
}
PACKING = (  # to whoever posts it
    "Do not switch it on again, not even to see whether it still works.",
    "Put it into an antistatic bag if you have one; otherwise into clean paper. No foil, no loose chips.",
    "Pad it with at least five centimetres on every side, in a firm box in which nothing moves when it is shaken.",
    "If it got wet: do not dry it. Seal it in a plastic bag while it is damp, put that into a second bag, and post it "
    "at once.",
    "Swollen, punctured or hot batteries are never posted: ask us first.",
    "Send what belongs to it, if it can be spared: its own cable, power supply, enclosure or caddy.",
    "Write down any password on nothing that lies in the box. We ask for it when it is here.",
    "Put the filled-in slip into the box, stick the label on the outside, and post it tracked and insured.",
)


def in_words(ticked: Iterable[str], own: str = "") -> str:
    """The sentences that were given, one a line, and then the clerk's own."""
    given = set(ticked)
    return "\n".join([*(said for key, said in ADVICE.items() if key in given), *([own] if own else [])])
