"""Every number that decides in a solve, once, with what it is a part of and why it has its size.

Numbers of the equations (where a law turns linear, where heat turns round) stay in `equations/`:
they are physics, not accuracy. Below the numbers stand the sizes that they are parts of.
"""

from __future__ import annotations

from sys import float_info

import numpy as np

from flownet.schema.arrays import Array

# --- the promise; what follows aims at half of it or less
MASS, PRESSURE, ENERGY = 1e-9, 1e-9, 1e-6  # of the largest flow, the largest pressure, the power
WARM_STEP, FLOW_STEP = 1e-6, 1e-8  # K; of the largest flow: the Newton step after the last
SPEED_FIT, SPEED_AIM = 1e-6, 0.1  # of a speed, or K of its temperature; of that: a search ends

# --- the least that "largest" ever means
PRESSURE_FLOOR, FLOW_FLOOR, POWER_FLOOR = 1e-6, 1e-9, 1e-3  # Pa, kg/s, W
COLUMN_ROUNDING = 8 * float_info.epsilon  # of rho g z: what is left of columns that cancel
ROUNDING = 1e-6  # of slope times flow: what is left of a fan's rise near its free delivery
TINY = float_info.min  # instead of 0 in a quotient

# --- flow at fixed temperatures
NOMINAL_FLOW, START_SPEED = 1e-2, 0.7  # kg/s, m/s, of the first slopes; fans: half their free flow
FLAT_FLOW, FLAT_HEAT = 1e-12, 1e-9  # least slope, of the largest pressure over the largest flow
FLAT_BASE = 1e-12  # Pa s/kg, added to the second
FLOW_ROUNDS, FLOW_CUTS = 60, 60  # Newton steps; evaluations along one
FALL = 0.5  # of the content's slope: what a good step leaves
NEARLY = 1e-7  # of the largest pressure: below this gap the content's slope is round-off
CLEAN, REFINEMENTS = 1e-12, 3  # of the largest flow: mass that a step may leave over; rounds

# --- flow and heat by Newton
DIRECT_ROUNDS, POLISHING, POINT_ROUNDS = 20, 3, 40  # steps: direct, after the end, a point's
HEAT_HALVINGS = 6  # of one step
STILL_FLOW, STILL_WARM = 3e-9, 3e-7  # of the largest flow, K: last step, a third of the promise
PATH_FLOW, PATH_WARM = 1e-3, 0.02  # of the largest flow; of the move so far: of a time step
PATH_LEAST, PATH_MOST = 1e-6, 0.02  # K: the second at least, and at most
LARGEST_STEP, COLDEST = 60.0, 100.0  # K: of one Newton step; no temperature is tried below
POLISH_STEP = 1.0  # K: a larger step would leave the state that is polished
GUESS_RISE = 300.0  # K: a first guess hotter than this is no guess
LARGE_FLOW = 0.05  # of the largest: a branch that must not turn against its isothermal flow

# --- flow and heat by turns
PASSES, COLD_PASSES, LAYERED = 18, 2, 30  # in all; of flow alone; with layers, which overturn
WATCHED = COLD_PASSES + 3  # the first pass after which a variant may be done
THIN = 0.3  # of variants: so many that are done are left out
GAP, PASS_FLOW, PASS_WARM = 6e-10, 5e-9, 5e-7  # of pressure, flow; K: expected to be left at an end
LEAST_LEFT, LEAST_GAP_LEFT = 0.1, 0.03  # of a step of flows, of a gap, however fast they shrink
LEAST_STEP = 1e-12  # K
HOTTEST, COLDER, CUT = 400.0, 150.0, 1e-6  # K: cut off above and below the outside; no end so near
NEAR = 0.01  # of the largest flow: so far factors serve on ...
EARLY, FRESH = 6, 12  # ... after this pass (before it flows move); new ones every time after that
FACTORS_KEPT = 300  # compartments from which factors serve once: passes do not end it there
LEAST_SHARE, MOST_SHARE = 0.25, 1.3  # of a change of temperatures
CALM = 0.5  # a pass that leaves less of the change before: temperatures act back weakly

# --- the air in time, where a fan has a dip
INERTANCE = 40.0  # length over area of every branch, 1/m
FAN_REACH, FAN_AIM, FAN_FIRST = 0.04, 0.02, 0.01  # of a dipped fan's last flow: most, wanted, first
AIR_SHORTER, AIR_LONGER = 0.4, 4.0  # factors on the time step
AIR_ROUNDS, AIR_CLOSE = 5, 1e-4  # Newton steps of a time step; last one, of the largest flow
AIR_STEPS, AIR_REST = 1000, 1e-4  # in time; of the largest pressure: what accelerates no more
CLOSER_ROUNDS = 8  # Newton steps to an unstable state that is near
MODE_ROUNDS, DRIFT = 60, 1e-9  # of the power iteration; of the largest flow
AIR_PUSH, PUSHES = 1e-3, 4  # of the largest flow, off an unstable state; how often

# --- flow and heat in time
CAPACITY = 5.0  # J/K of every compartment
INNER, OUTER = 10, 1000  # Newton steps of one time step; time steps
HOT, HOT_OUTER = 300.0, 1500  # K above the outside: time steps where heat may have no way out
RUNAWAY = 1500.0  # K above the outside, from where no march comes back below the 500 K of the rule
WARM_ERROR, FLOW_ERROR, OWN_ERROR = 0.2, 1e-3, 0.02  # of a step: K; of the largest flow; of its own
MOST_WRONG = 1.5  # of these
CAUTION, STRAIGHT = 0.9, 1e-12  # of the step that would be as wrong as allowed; the least error
FIRST, LONG, LONGEST, SHORTEST = 1e-3, 20.0, 1e12, 1e-9  # s: the first time step at most; see next
SMALL_MOVE, KEPT_MOVE = 0.2, 3.0  # K in a long step: steady Newton is tried; it may move so far
LONGER, SHORTER = 4.0, 0.2
PATIENCE = 5  # steady Newton is tried after 0, 1, 3, ... 31 more time steps
APART, BACK = 0.1, 1e-3  # K from an unstable state; a move that shows a march to have come to rest
SAME = 1e-5  # K from an unstable state: a solution that is this one again
WARM_PUSH = 0.5  # K, off an unstable state

# --- temperatures in time, flows that follow at once
TIME_ERROR, TIME_SHARE = 1e-5, 1e-12  # K, W: of a step of the integrator; of the value itself
RIDE_ERROR = 1e-4  # K, W: of a step where only the time of the first limit is asked for
HELD_FAST = 1e15  # W/K that hold a temperature where it is
CHORDS, CHORD_LEADS, CHORD_STILL = 12, 0.3, 1e-8  # rounds; of the step before; of the largest flow
SWITCH_TIME = 1e-6  # s, within which a switch is located
JUMP_WIDTH = 1e-6  # K across a jump of a fan's speed that has no points of its own
BEGINNINGS = 20  # rounds in which a beginning is made to fit
STILL_AIR = 0.02  # of the flow that there was: steps to a lesser one are measured by this
TURN_TIME, TURN_STEP = 0.05, 0.02  # s between flows that end and others; as FAN_AIM, of the largest
TURN_TIMES = tuple(TURN_TIME * 4**n for n in range(6))  # s, likewise, one after the other
TURN_SHARE = 0.25  # of the way to where flows end: a step
MOST_TURNS, MOST_LEGS = 60, 20_000  # of a stretch

# --- heat held back place by place
MARCHED = 300  # compartments up to which what is not safe is marched from rest
HELD_ROUNDS, FAR, FARTHEST = 200, 20.0, 30.0  # K of one round: held back from; cut off at
HOTTER = 500.0  # K above the outside: cut off
SWING, FAINT = 0.3, 1e-3  # of the step before, K: a step back that counts as going to and fro
HOLD, MORE, LESS, LEAST = 0.5, 4.0, 1.5, 1e-2  # of the heat flow that passes, per K
HELD_STILL = 1e-5  # K, of the largest flow: from here plain Newton ends it

# --- linear systems and stability
PIN = 0.7548776662  # of the weights around a pinned node
NUDGE = 1e-12  # of a slope: no pivot is exactly zero, and no sign that can be known changes
STEP = 1e-30  # imaginary step of derivatives
DENSE = 400  # unknowns up to which matrices are full
GROWTH = 1e-9  # of the largest entry: below this a mode does not grow
DENSE_MODES = 300  # compartments up to which all eigenvalues are computed
RUNGS, RUNG = 13, 3.0  # growth rates looked around, downwards from the largest heat flow per K
ARNOLDI, RESTARTS = 24, 2  # steps around each
CLOSE, GROWING = 1e-3, 0.1  # of the rate: how near an eigenvalue is found; what it must exceed

# --- several states
FLOW_BLOCK = 512  # flow problems solved side by side
ONE_STATE = 1e-4  # of a fan's last flow: states closer than this in every dipped fan are one
FINER = 16  # flows of a second scan around a place where the first one nearly fits
ROOTS = 25  # steps of regula falsi
POLISH, REACH = 30, 0.2  # Newton steps; of a fan's last flow, the most that one moves it
FLOW_SEED, POINT_SEED = 20, 21
SAME_FLOW, SAME_WARM = 1e-3, 0.05  # of a dipped fan's last flow and of the largest flow; K
SAME_WARMTH = 0.5  # K: temperatures this near need no search of their own
LEAST_CHOICES = 8  # of falling pieces, in an enclosure of any size
RANDOM_RISE = 40.0  # K above the hottest, random temperatures to march from
WIDEST, SAMPLES = 1.2, 1200  # of the last flow, both ways: a piece below 0.2 % of it is not seen
BISECTIONS = 50
LARGEST = 200_000  # numbers in an array of samples
STEEP = 1.0  # slope beyond a piece, of the largest drop on the samples over the last flow
LOADS = 64  # steps of a loading filter
JUMP, WARMED = 0.04, 3.0  # of a dipped fan's last flow, K: more in one step is followed in time
NO_FLOW = 1e-7  # kg/s: air that does not move

# --- speeds that follow temperatures
SPEED_ROUNDS = 100
SPEED_JUMP = 1e-9  # K: bounds as near as this, and no fit between them: the temperature jumps
SHORTEST_SHARE = 1 / 64  # of Newton's step, several sensors
LEAST_FALL = 0.1  # of the largest misfit by a full step


# --- sizes ---------------------------------------------------------------------------------------


def largest(values: Array) -> Array:
    """(variants,) largest size in each column; 0 where there is none."""
    size: Array = np.maximum.reduce(abs(values), axis=0, initial=0.0)
    return size


def flow_scale(flow: Array) -> Array:
    """(variants,) the largest flow that a step or an imbalance of mass is a part of [kg/s]."""
    scale: Array = np.maximum(largest(flow), FLOW_FLOOR)
    return scale


def pressure_scale(drop: Array, steep: Array, pressure: Array, least: Array | float) -> Array:
    """(variants,) the largest pressure that an imbalance is a part of [Pa].

    drop : of open branches or elements, or anything else that adds up to one; `steep`: slope times
    flow of open branches; pressure: of nodes; least: what drives, and the floor.
    """
    drops = np.maximum(largest(drop), ROUNDING * largest(steep))
    scale: Array = np.maximum(drops, np.maximum(least, largest(pressure)))
    return scale
