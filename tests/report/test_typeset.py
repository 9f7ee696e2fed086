from __future__ import annotations

import subprocess
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hgmap.report.typeset import fit, printable, width_mm, width_pt, wrap


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=120), st.floats(8.0, 80.0), st.booleans())
def test_no_line_is_wider_than_its_room(text, room, bold):
    for line in (*wrap(text, 7.0, room, bold=bold), fit(text, 7.0, room, bold)):
        assert width_mm(line, 7.0, bold) <= room + 1e-9


@settings(max_examples=60, deadline=None)
@given(st.text(alphabet="abc de", max_size=80))
def test_wrapping_loses_no_letter(text):
    assert "".join(wrap(text, 7.0, 12.0)).replace(" ", "") == text.replace(" ", "")


def test_a_capital_w_is_as_wide_as_the_font_says():
    # DejaVu Sans 2.37, table hmtx: 2025 of 2048 units; read from the font file
    assert width_pt("W", 10.0) == pytest.approx(10.0 * 2025 / 2048)


def test_a_text_cut_short_ends_in_an_ellipsis():
    lines = wrap("one two three four five six seven", 7.0, 15.0, most_lines=2)
    assert len(lines) == 2
    assert lines[-1].endswith("…")


def test_a_number_stays_with_its_unit_and_its_thousands():
    for room in range(12, 40):
        lines = wrap("there are 12 500 m² and 3.5 m more", 7.0, float(room))
        assert not any(line.startswith(("m² ", "500", "m ")) for line in lines)


def test_a_letter_that_the_font_lacks_is_marked_and_controls_are_gaps():
    assert printable("a\t中\u0007b") == "a \u25a1 b"


MEASURING = """
import sys, threading, warnings
from hgmap.report import typeset
sys.setswitchinterval(1e-5)
warnings.simplefilter("error")
wrong = []

def measure():
    for _ in range(40):
        for code in range(33, 127):
            try:
                # past what is remembered: threads meet at the font itself
                typeset._advance.__wrapped__(chr(code), False)
                typeset._known.__wrapped__(chr(code))
            except Exception as error:
                wrong.append(error)
                return

threads = [threading.Thread(target=measure) for _ in range(3)]
for one in threads:
    one.start()
for one in threads:
    one.join()
sys.exit(len(wrong))
"""


def test_several_threads_may_measure_letters_at_the_same_time() -> None:
    # in a process of its own: without the lock it crashes, or finds no letter in the font
    done = subprocess.run([sys.executable, "-c", MEASURING], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
