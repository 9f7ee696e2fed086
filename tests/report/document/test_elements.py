"""What a report must hold is found in each format by a reader that is not ours."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from hgmap.report.clearance_notes import LAST
from hgmap.report.document.write_up import write_up
from hgmap.site.cautions import screening
from hgmap.site.folder import read_site
from hgmap.survey_report import survey_of
from tests.report.document.conftest import Written, options

MANDATORY = {
    "site": "Test building (invented)",
    "invented data": "INVENTED DATA",
    "client": "Client (invented)",
    "prepared by": "Surveyor (invented)",
    "reviewed by": "Reviewer (invented)",
    "summary": "Where is it above the level?",
    "answer": "to remediate",
    "level and its source": "atsdr-commercial-occupancy",
    "averaging": "averaging:",
    "trust": "Can the readings be trusted?",
    "next": "What is to be done next?",
    "clearance": "Clearance: does every room meet the level?",
    "an outcome": "does not meet",
    "another outcome": "cannot tell yet",
    "what is missing": "What is missing",
    "the rule": "rule every-reading-below",
    "the rule's blind side": "it cannot see",
    "rooms": "Rooms: ground",
    "a room": "Room B",
    "maps": "Maps",
    "resample plan": "Where to measure again, and when to stop",
    "stop rule": "Stop rule:",
    "method": "How the ground between readings is estimated",
    "a setting": "remediate_at",
    "a setting's source": "common practice, no source",
    "instrument's rules": "regeneration-before-use",
    "conditions": "How the building stood",
    "quality": "Instrument and quality of the readings",
    "limits": "Limits of this survey",
    "caution": screening("air"),
    "who decides": LAST,
    "signatures": "Signatures",
    "signature line": "Prepared by: Surveyor (invented)",
    "all readings": "Appendix A: every reading of this round",
    "the held one's reason": "stones",
    "the log": "Appendix B: the instrument log",
    "a check": "end-of-day",
    "inputs": "SHA-256",
}


@pytest.mark.parametrize("ending", ["pdf", "docx", "html"])
@pytest.mark.parametrize("what", MANDATORY)
def test_a_report_holds(written: Written, what: str, ending: str) -> None:
    assert _bare(MANDATORY[what]) in _bare(written.text[ending])


def _bare(text: str) -> str:
    """Leave gaps out: a reader of PDF sees where a line ends, not what was written there."""
    return "".join(text.split())


@pytest.mark.parametrize("ending", ["pdf", "docx", "html"])
def test_every_reading_stands_in_the_appendix(written: Written, ending: str) -> None:
    text = written.text[ending]
    after = text[text.rindex("Appendix A: every reading of this round") :]
    readings = written.run.survey.site.readings
    assert len(readings) == 15
    for one in readings:
        assert re.search(rf"\b{one.id}\b", after), one.id


@pytest.mark.parametrize("ending", ["pdf", "docx", "html"])
def test_no_report_promises_anything(written: Written, ending: str) -> None:
    assert not re.search(r"\bsafe\b", written.text[ending], re.IGNORECASE)


def test_every_rule_is_shown_where_none_was_chosen_but_the_one_that_needs_more_maps(
    small_site: Path,
) -> None:
    _, survey = survey_of(read_site(small_site), options())
    parts = write_up(survey).parts
    told = " ".join(str(one) for one in parts)
    assert "ucl-below" in told
    assert "rule map-nowhere-above was not asked here" in told
    outcomes = {
        one.rule.name for level in survey.clearance.levels
        for room in level.rooms for one in room.outcomes
    }  # fmt: skip
    assert "map-nowhere-above" not in outcomes
    assert len(outcomes) == 5
