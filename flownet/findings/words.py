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
    "every fan runs that should. Extreme-air: air below -60 or above 150 degC; extreme-part: a "
    "part above 1000 degC, both our own choice. A fan in stall while another is "
    "out is tight instead: an hour in the dip is not a life (common practice, no source)",
    "on paper": "of limits and margins of a void run: what they would be if its numbers counted",
    "opposed": "fans blow against each other: into or out of places with next to no other way, or "
    "side by side with one mounted backwards. See fans-opposed",
    "extreme-air": "air below -60 or above 150 degC, in which no fan, filter or part of an "
    "enclosure works: our own choice. The numbers of such a run are void",
    "extreme-part": "a part above 1000 degC: its resistance is read where it does not hold, our "
    "own choice. The numbers of such a run are void",
    "region": "where on its curve a fan works: normal, stall, backflow, past-free-delivery; or it "
    "is stopped or blanked",
    "normal": "region of a fan: its flow lies between stall and free delivery",
    "stall": "region of a fan: its flow is less than where the falling end of its curve begins, "
    "so it works in a dip or on a rising piece, with noise and unsteady flow. See fan-stall",
    "backflow": "region of a fan: air goes through it against the way it blows. See fan-backflow",
    "past-free-delivery": "region of a fan: other fans or draught draw more through it than it "
    "moves by itself; it brakes the air. See fan-past-free-delivery",
    "stopped": "a fan that does not turn; its hole stays open, behind its shutter if it has one",
    "freewheeling": "state of a fan whose motor is dead and whose rotor the air turns: it counts "
    "as stopped, with the loss freewheel_loss of its type. See fan-out",
    "blanked": "taken out and covered: no air passes",
    "dip": "part of a fan curve where one pressure belongs to several flows, left of its last peak",
    "rise": "static pressure that a fan adds, positive the way it blows",
    "drop": "static pressure that is lost, positive with the flow",
    "stable": "the state comes back after a small disturbance of flow or heat",
    "unstable": "a small push leads away from the state, so it does not last. See unstable-state",
    "operating point": "a steady state of the enclosure, where fans and network agree. Fans with a "
    "dip may have several: solve --all-points shows each",
    "from rest": "the state reached when everything is switched on together",
    "fouling": "factor on the drop of a filter or vent: 1 is clean, 2 has twice the drop at the "
    "same flow",
    "useful flow": "of the air drawn in from outside, what passes a part with a limit before it "
    "leaves; the rest is bypass",
    "bypass": "air drawn in from outside that leaves without passing a part with a limit",
    "the limit that decides": "a broken temperature limit with the least margin; else a broken one "
    "of another kind; else the temperature limit with the least margin",
    "outage": "what fails, and how: a fan that stands in its open hole (-out), behind a shutter "
    "(-shut), or is taken out and covered (-blanked)",
    "air rise": "mean temperature of the air that leaves, less outside temperature",
    "value": "what the solve finds for what a limit is about; in a ranking: of the input as it is",
    "limit": "the bound that a value must keep: of a part, of the air in a compartment, of noise, "
    "of the life of a fan",
    "no limit": "nothing in the case says what this may be, so nothing is judged",
    "status": "how a limit, or a whole solve by the limit that decides, stands: ok, tight, over, "
    "short, unknown",
    "holds": "every limit is kept; of samples: the share of them in which it is",
    "flow": "volume of air through it at the density of that air; a minus sign: against its "
    "`from` and `to`",
    "from > to": "the ends of a branch as the case has them; air with a minus sign goes the other "
    "way",
    "air in": "temperature of the air that a fan draws in",
    "air": "in a comparison: temperature of the hottest air",
    "hottest air": "the highest temperature of the air in any compartment",
    "back": "air goes against the way that was meant: through a fan that stands, or is overpowered",
    "intake": "all air drawn in from outside, of which a branch has a share",
    "heat": "what the air takes up, in W: what leaves with the air and through walls",
    "balance": "how well the equations are met, mass, pressure and energy, as shares: nothing to "
    "read into while they are far below 1e-6",
    "L10": "life by which 10 % of many equal fans have failed, at the temperature of the air they "
    "draw; never compared with a mean life",
    "life": "hours that a fan lasts in the air it draws, by the figure of its type",
    "level": "sound of one fan at the distance of the page, in dBA",
    "blade pass": "frequency at which blades pass a point, the tone of a fan: speed times blades",
    "10 % slower": "noise of all fans with this one at 0.9 times its speed, the air left as it is",
    "without": "noise of all fans but this one",
    "worst of each": "of every variant the scenario in which it stands worst",
    "its flow": "of an outage: through the dead fan, the way it blows; below zero it comes back",
    "none out": "the worst margin with every fan running",
    "open": "of an outage: the dead fan stands in its hole, air comes back through it",
    "rest up": "of an outage: what still runs is at the top of its speed range",
    "today": "with the case as it is, before the key is moved",
    "change": "what a gauge shows where the first limit breaks: when to change a filter",
    "lever": "inputs moved as one: things alike, or factors of one product, of which any is meant",
    "input": "a number of the case, by its path",
    "step": "what an input is moved by: 10 % of its value, an efficiency by 10 % of its loss; "
    "1 K, 1 dB, 100 m, 10 mm, or one more",
    "effect": "change of the result by the step of an input, or by its whole tolerance, to first "
    "order",
    "elasticity": "percent of the result for one percent of the input, of a temperature percent "
    "of its rise over outside; 1: in proportion",
    "combination": "one value for each key that is varied",
    "own": "heat that the air takes up in a compartment and on the way into it",
    "brought": "heat above outside that the air of a compartment brings along from upstream",
    "allowed": "how much warmer than outside the air of a compartment may be",
    "alone": "flow for a compartment's own heat only, as if all its air came straight from outside",
    "needed": "flow for own and brought heat over the allowed rise, all flows grown alike",
    "solved": "flow that the solve gives; beside it its share of the need",
    "hardly any heat": "a compartment with less than 1 % of all heat, or whose walls take it off: "
    "no flow is too little for it",
    "rule of thumb": "flow per W and K with a density in it: right for one air, off for others",
    "gives": "the flow by a rule of thumb",
    "candidate": "a fan type that is tried at a place",
    "accepted": "a candidate with which every limit holds in every scenario that decides",
    "excluded": "a candidate that does not serve; every reason with its number stands beside it",
    "excluded first by, excluded by": "the limits that broke first, the most frequent on top",
    "best": "of what holds, the first by what ranks",
    "design": "one value for each path that a choice leaves open",
    "trade-off": "designs of which none is better in both measures than another",
    "closest": "of what does not hold, that with the least to make good",
    "P5, P50, P95": "values below which 5, 50 and 95 of 100 samples lie; P50 is the middle",
    "95 % sure": "between what a chance itself lies, as a sample is only a sample: the exact "
    "interval of the binomial distribution",
    "share": "part of a whole: of the energy of all noise, of the variance of a result",
    "linear": "a share by exact derivatives at the stated values, without sampling",
    "unexplained": "variance that no straight line in the inputs explains: bends, inputs that act "
    "together",
    "usual": "a tolerance that the case does not state, marked *: common practice, no source",
    "result": "what a solve finds, by its path, such as part.NAME.temperature",
    "finding": "what is worth a word about one solution: error, warning or note",
    "error": "a finding that makes the answer wrong or a limit broken; --strict ends with code 1",
    "warning": "a finding that may make the answer or the enclosure worse than it looks",
    "note": "a finding that is good to know, and asks for nothing",
}


def known_word(word: str) -> str:
    """The word as the table has it, whatever its case, hyphens and spaces; empty if there is none.

    `Operating-point` is `operating point`, `past free delivery` is `past-free-delivery`.
    """
    return _SPELT.get(_plain(word), "")


def part_of_word(word: str) -> str:
    """The word that begins or ends with this one, or has it as an alternative; empty where there
    is none, or several: `useful` is `useful flow`, `P50` is `P5, P50, P95`."""
    plain = _plain(word)
    found = [whole for spelt, whole in _SPELT.items() if plain in _parts(spelt)]
    return found[0] if len(found) == 1 else ""


def _parts(spelt: str) -> list[str]:
    if "," in spelt:
        return spelt.split(", ")
    steps = spelt.removeprefix("the ").split()
    return [steps[0], steps[-1]]


def _plain(word: str) -> str:
    return " ".join(word.lower().replace("-", " ").replace("_", " ").split())


_SPELT = {_plain(word): word for word in WORDS}
