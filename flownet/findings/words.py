"""Words that stand on flownet's own pages: what each means, for `explain`."""

from __future__ import annotations

WORDS = {
    "margin": "limit less value; positive: the limit holds. Of a life: life less the hours asked "
    "for",
    "worst margin": "the least margin of all temperature limits, of parts and of air; negative: "
    "that limit is broken",
    "ok": "the limit holds, a temperature with limits.margin or more left",
    "tight": "the temperature limit holds, with less than limits.margin left (5 K unless given)",
    "over": "the limit is broken: the value lies above it",
    "short": "the limit of a life is broken: it is shorter than the hours asked for",
    "unknown": "there is a limit, but no value to hold against it, such as the noise of a fan "
    "whose data sheet states none",
    "void": "the numbers of a run do not count, whatever margins they leave; the verdict names the "
    "reason. Supply: a running fan has no data for its supply, and no law scales them. Opposed: "
    "fans blow against each other. Unstable: a small push leads away from the state. Backflow: "
    "air goes through a running fan against the way it blows. Stall: a fan works in its dip while "
    "every fan runs that should. Extreme-air: air below -60 or above 150 degC, our own choice. A "
    "fan in stall while another is out is tight instead: an hour in the dip is not a life (common "
    "practice, no source)",
    "on paper": "of limits and margins of a void run: what they would be if its numbers counted",
    "opposed": "fans blow against each other: into or out of places with next to no other way, or "
    "side by side with one mounted backwards. See fans-opposed",
    "extreme-air": "air below -60 or above 150 degC, in which no fan, filter or part of an "
    "enclosure works: our own choice. The numbers of such a run are void",
    "region": "where on its curve a fan works: normal, stall, backflow, past-free-delivery; or it "
    "is stopped or blanked",
    "normal": "region of a fan: its flow lies between stall and free delivery",
    "stall": "region of a fan: its flow is less than where the falling end of its curve begins, "
    "so it works in a dip or on a rising piece, with noise and unsteady flow. See fan-stall",
    "backflow": "region of a fan: air goes through it against the way it blows. See fan-backflow",
    "past-free-delivery": "region of a fan: other fans or draught draw more through it than it "
    "moves by itself; it brakes the air. See fan-past-free-delivery",
    "stopped": "a fan that does not turn; its hole stays open, behind its shutter if it has one",
    "blanked": "taken out and covered: no air passes",
    "dip": "part of a fan curve where one pressure belongs to several flows, left of its last peak",
    "rise": "static pressure that a fan adds, positive the way it blows",
    "drop": "static pressure that is lost, positive with the flow",
    "stable": "the state comes back after a small disturbance of flow or heat",
    "unstable": "a small push leads away from the state, so it does not last. See unstable-state",
    "operating point": "a steady state of the enclosure, where fans and network agree. Fans with a "
    "dip may have several: solve --all-points shows each",
    "from rest": "the state reached when everything is switched on together",
    "fouling": "factor on the drop of a filter: 1 is clean, 2 has twice the drop at the same flow",
    "useful flow": "of the air drawn in from outside, what passes a part with a limit before it "
    "leaves; the rest is bypass",
    "bypass": "air drawn in from outside that leaves without passing a part with a limit",
    "the limit that decides": "a broken temperature limit with the least margin; else a broken one "
    "of another kind; else the temperature limit with the least margin",
    "outage": "what fails, and how: a fan that stands in its open hole (-out), behind a shutter "
    "(-shut), or is taken out and covered (-blanked)",
    "air rise": "mean temperature of the air that leaves, less outside temperature",
}


def known_word(word: str) -> str:
    """The word as the table has it, whatever its case, hyphens and spaces; empty if there is none.

    `Operating-point` is `operating point`, `past free delivery` is `past-free-delivery`.
    """
    return _SPELT.get(_plain(word), "")


def _plain(word: str) -> str:
    return " ".join(word.lower().replace("-", " ").replace("_", " ").split())


_SPELT = {_plain(word): word for word in WORDS}
