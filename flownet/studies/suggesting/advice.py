"""What findings advise, tried: of those changes that can be made by themselves what each brings."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure.toml_text import settable
from flownet.findings import RULES
from flownet.judging.assessment import UNSOLVED, VOID
from flownet.pages.sheet import Listing, by_rows
from flownet.results.batch import remembered
from flownet.results.finding import Finding
from flownet.results.limits import broken
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.arrays import Array
from flownet.schema.fields import NONE, given
from flownet.schema.quantities import Quantity
from flownet.solving.solve import completed
from flownet.studies.outcome import margin_unit
from flownet.studies.runs import Outcomes, Run
from flownet.studies.searches import Search, found_by
from flownet.studies.suggest import astray
from flownet.studies.suggesting.kinds import candidates
from flownet.studies.suggesting.steps import EFFORT_OF, ProposedChange

BRING_AIR = ("area", "open_ratio", "mat", "unseal", "baffle", "speed", "fan_type", "fan_add")
ADVICE = {  # rule -> kinds of change that its advice comes to
    "limit-part": (*BRING_AIR, "seal", "filler", "clearance", "shutter"),
    "limit-air": (*BRING_AIR, "seal", "filler", "clearance", "shutter"),
    "limit-flow": BRING_AIR, "limit-noise": ("speed", "fan_off", "fan_type"),
    "limit-life": ("turn", "fan_type"),
    "fan-stall": ("area", "open_ratio", "mat", "unseal", "fan_type"),
    "fan-past-free-delivery": ("speed", "fan_off", "fan_type"),
    "fan-backflow": ("fan_off", "shutter", "area", "fan_type"), "fans-opposed": ("turn", "unseal"),
    "outlet-missing": ("unseal", "area"), "bearing-unsuited": ("fan_type",),
    "fan-air-range": ("turn", "fan_move", "fan_type"), "speed-below-minimum": ("speed",),
    "draught-against-fan": ("turn", "speed", "fan_type"),
    "air-returns-inside": ("seal", "filler", "area", "unseal"), "fan-out": ("shutter",),
    "no-through-air": ("unseal",), "slot-empty": ("filler",), "filter-bypass": ("seal",),
    "clearance-tight": ("clearance",), "supply-mismatch": ("supply", "fan_type"),
    "short-circuit": ("recirculation",), "filter-missing": ("service", "turn"),
    "other-operating-point": ("area", "open_ratio", "mat", "unseal", "fan_type"),
}  # fmt: skip


class Advised(NamedTuple):
    """The best of the changes that the advice of a finding comes to."""

    finding: Finding
    quantity: Quantity  # of the margin it speaks of, else of the least temperature margin
    about: str  # whose margin that is: at part.drive, to the least margin
    tried: int  # how many changes
    change: ProposedChange | None = None  # None: none of them has a solution that counts
    changes: Mapping[str, Any] = NONE  # of it, as `--set` takes them
    gone: bool = False  # what it speaks of is so no more: the limit holds, the rule is silent
    gain: float = math.nan  # of the margin
    void: bool = False  # whether the numbers are void with it, as they are without

    @property
    def helps(self) -> bool:
        """Whether anything is better for it."""
        on_paper = self.void and self.finding.rule.startswith("limit-")
        return self.change is not None and not on_paper and (self.gone or self.gain > 0)

    def words(self, units: str = "metric") -> str:
        """`slot.card-9 blanked: +2.4 K at part.switch-chip-1`."""
        if self.change is None or not self.helps:
            return f"none of {self.tried} changes of this sort helps"
        gain = f"{self.quantity.shown(units).text(self.gain, '+')} {self.about}"
        limit = self.finding.rule.startswith("limit-")
        gone = "" if not self.gone else "it holds" if limit else "no such finding"
        words = (gain if not math.isnan(self.gain) else "", gone, "still void" * self.void)
        return f"{self.change.words}: {', '.join(filter(None, words))}"

    def to_dict(self) -> dict[str, Any]:
        """As in JSON."""
        return {
            "rule": self.finding.rule, "subject": self.finding.subject,
            "changes": self.changes if self.helps else None, "gone": self.gone,
            "gain": None if math.isnan(self.gain) else self.gain,
            "gain_unit": margin_unit(self.quantity), "words": self.words(),
        }  # fmt: skip


@remembered
def advised(solution: Solution) -> tuple[Advised, ...]:
    """What the advice of each finding brings, where it is a change that can be made: all such
    changes are solved in the scenario of the solution, as one batch."""
    return found_by(tried(solution))


def tried(solution: Solution) -> Search[tuple[Advised, ...]]:
    """The search for it."""
    findings = [each for each in solution.findings if each.rule in ADVICE]
    if not findings:
        return ()
    case = solution.case
    running = {f"fan.{name}.state": "running" for name in case.applied.failed}
    case_ = case.with_changes(running) if running else case
    other = EFFORT_OF.keys() - {kind for each in findings for kind in ("turn", *ADVICE[each.rule])}
    some = [each for each in candidates(case_, ("base",), without=[*other]) if each.case is None]
    (found,) = yield [[Run(of=case), *(Run(changes=each.changes, of=case) for each in some)]]
    status = found.stand.status
    now = solution if status[0] > VOID else ""
    turned = [False, *(each.kind == "turn" for each in some)]
    out = [code == UNSOLVED or (code == VOID < status[0])
           or bool(astray(now, found.select(i), turn))
           for i, (code, turn) in enumerate(zip(status, turned, strict=True))]  # fmt: skip
    best = (_best(each, some, found, out) for each in findings)
    return tuple(each for each in best if each.tried)


def tried_table(some: Sequence[Advised]) -> Iterator[Listing]:
    """What the advice brings, a line for each finding."""
    rows = [(each.finding.rule, each.finding.subject, each.words) for each in some]
    if rows:
        yield by_rows("tried", (("Tried", None), ("", None), ("", None)), rows, "page", hang=True)


def _best(
    finding: Finding, some: Sequence[ProposedChange], found: Outcomes, out: Sequence[bool]
) -> Advised:
    """The first that ends what a finding of a limit speaks of, of others the one that ends it with
    most margin; else that which brings most. What leaves the numbers void comes last."""
    margins, quantity, about = _margins(finding, found)
    void, limit = found.stand.status == VOID, finding.rule.startswith("limit-")
    kinds = (*ADVICE[finding.rule], "turn" * bool(void[0]))  # fans may blow against each other
    own = [i for i, each in enumerate(some, 1) if each.kind in kinds]
    kind = finding.rule.removeprefix("limit-")
    gone = {i: bool(given(margins[i]) and not broken(kind, margins[i])) if limit
            else _silent(finding, found.select(i)) for i in own if not out[i]}  # fmt: skip
    gains = np.nan_to_num(margins - margins[0])
    best = max(gone, key=lambda i: (not void[i], gone[i], -i if limit and gone[i] else gains[i]),
               default=None)  # fmt: skip
    none = Advised(finding, quantity, about, len(own))
    if best is None:
        return none
    gain, change = math.nan if void[best] else float(margins[best] - margins[0]), some[best - 1]
    return none._replace(change=change, changes=settable(found.case(0), change.changes),
                         gone=gone[best], gain=gain, void=bool(void[best]))  # fmt: skip


def _margins(finding: Finding, found: Outcomes) -> tuple[Array, Quantity, str]:
    """(pairs,) the margin that a finding speaks of, else the least of temperatures."""
    for item in found.limits:
        if finding.rule == f"limit-{item.limit}" and finding.subject == item.subject:
            return item.margin, item.margin_quantity, f"at {item.subject}"
    return found["total.worst_margin"], q.DIFFERENCE, "to the least margin"


def _silent(finding: Finding, solution: Solution) -> bool:
    """Whether its rule says the same of the same subject no more; of other states, which are looked
    for anew, whether it says nothing at all."""
    if finding.rule == "other-operating-point":
        return not any(RULES[finding.rule](completed(solution)))
    return all(each.subject != finding.subject for each in RULES[finding.rule](solution))
