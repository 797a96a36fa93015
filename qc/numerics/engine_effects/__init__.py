"""What lowering a cylinder does to the engine: timing, compression, squish flow, running gap.

Start with `effects_of_cut`; each module below it can be used alone.
"""

from qc.numerics.engine_effects.compression import Compression, burette_compression
from qc.numerics.engine_effects.effects import EngineEffects, effects_of_cut
from qc.numerics.engine_effects.geometry import EngineGeometry
from qc.numerics.engine_effects.limits import PUBLISHED, Limit, ShopLimits
from qc.numerics.engine_effects.ring_ends import PortWindow, RingData
from qc.numerics.engine_effects.warnings import CutWarning

__all__ = [
    "PUBLISHED",
    "Compression",
    "CutWarning",
    "EngineEffects",
    "EngineGeometry",
    "Limit",
    "PortWindow",
    "RingData",
    "ShopLimits",
    "burette_compression",
    "effects_of_cut",
]
