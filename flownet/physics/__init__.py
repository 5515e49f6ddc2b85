"""Published relations as pure, complex-safe array functions, each with its source and its range.

The general libraries `fluids` and `ht` are scalar and refuse complex numbers; the forms here are
our own and are tested against them over their whole range. Nothing but numpy is loaded.
"""

from flownet.physics import films, friction, installation, life, losses, materials, sound, sun
from flownet.physics.registry import (
    COMMON_PRACTICE,
    REGISTRY,
    Correlation,
    Exceeded,
    correlation,
    find,
    outside_range,
)

__all__ = [
    "COMMON_PRACTICE",
    "REGISTRY",
    "Correlation",
    "Exceeded",
    "correlation",
    "films",
    "find",
    "friction",
    "installation",
    "life",
    "losses",
    "materials",
    "outside_range",
    "sound",
    "sun",
]
