"""How long anything may take before a test gives up, on a machine that has much else to do."""

from __future__ import annotations

SLOW_S = 180.0
SLOW_MS = round(1000 * SLOW_S)
