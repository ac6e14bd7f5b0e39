"""What the engine can say of every number without knowing any check: limits in place of
percentages.

Windows of every dimension, ways out of what is not let in, accept limits of the seller's sheet,
gates before a cut.
"""

from compare.answer.accept import accept
from compare.answer.gates import gates
from compare.answer.ways_out import ways_out
from compare.answer.windows import windows

__all__ = ["accept", "gates", "ways_out", "windows"]
