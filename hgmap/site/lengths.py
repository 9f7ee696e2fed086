"""Lengths that are not metric, in metres.

The inch, foot and yard of the international agreement of 1959, and the foot that United States
surveys were measured in until 2022 (NIST Special Publication 811, appendix B; values from memory).
"""

from __future__ import annotations

from typing import Final

INCH_M: Final = 0.0254
FOOT_M: Final = 0.3048
YARD_M: Final = 0.9144
"""Exact by definition."""

US_SURVEY_FOOT_M: Final = 1200.0 / 3937.0
"""Longer than the foot by 2 ppm."""
