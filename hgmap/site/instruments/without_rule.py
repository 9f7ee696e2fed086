"""Keys of findings that no rule of ``instrument_rules.toml`` makes: what the log cannot say."""

from __future__ import annotations

from typing import Final

NO_LOG: Final = "no-log"
NO_CHECK: Final = "no-check"
NOT_IN_LOG: Final = "not-in-log"
WHICH_INSTRUMENT: Final = "which-instrument"
UNKNOWN_PRINCIPLE: Final = "unknown-principle"
NO_TIME: Final = "no-time"
TIME_ZONE: Final = "time-zone"
OVERRULE: Final = "overrule"
LOG_DOUBT: Final = "log-doubt"

SAYS: Final = {
    NO_LOG: "nobody wrote an instrument log",
    NO_CHECK: "no check of the instrument that did not fail on the day",
    NOT_IN_LOG: "the instrument of the reading is not in the log",
    WHICH_INSTRUMENT: "the log has several instruments and the reading names none",
    UNKNOWN_PRINCIPLE: "the log does not say how the instrument measures",
    NO_TIME: "nobody wrote when the reading was taken",
    TIME_ZONE: "one of log and readings states a time zone and the other does not",
    LOG_DOUBT: "a row of the log that cannot be read may hide a failed check or a saturation",
    OVERRULE: "a person held the reading",
}
"""What each means, to print."""
