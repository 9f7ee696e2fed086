"""What ``hgmap import readings`` prints: the mapping, what was assumed, what was left out."""

from __future__ import annotations

from rich.table import Table

from hgmap.site.intake.import_readings import ImportedReadings
from hgmap.site.intake.unfilled import said_of_unfilled
from hgmap.terminal.results import MOST_LINES, console_for_results

_LONGEST_EXAMPLE = 40


def print_imported(done: ImportedReadings) -> None:
    """Print the outcome of an import."""
    console = console_for_results()
    table = Table(box=None, pad_edge=False, header_style="bold")
    for title in ("ours", "theirs", "example", "found"):
        table.add_column(title)
    for one in done.matches:
        example = " ".join(one.example.split())
        short = example if len(example) <= _LONGEST_EXAMPLE else f"{example[:_LONGEST_EXAMPLE]}…"
        table.add_row(one.ours, " ".join(one.theirs.split())[:_LONGEST_EXAMPLE], short, one.why)
    console.print(table)
    if len(done.header) != 1:
        rows = " and ".join(map(str, done.header))
        console.print(f"note: the header is rows {rows}" if rows else "note: there is no header")
    if done.carried:
        console.print(f"into the note: {', '.join(map(repr, done.carried))}")
    if done.unread:
        shown = ", ".join(map(repr, done.unread[:MOST_LINES]))
        more = len(done.unread) - MOST_LINES
        console.print(f"columns left behind: {shown}" + (f" and {more} more" if more > 0 else ""))
    for text in done.notes:
        console.print(f"note: {text}")
    for left in done.left_out:  # all of them: whoever counts the rows must find each
        console.print(f"left out: {left.text}")
    if done.unfilled:
        console.print(said_of_unfilled(done.unfilled))
    for text in done.doubts[:MOST_LINES]:
        console.print(f"will be held: {text}")
    if done.doubtful > MOST_LINES:
        console.print(f"will be held: and {done.doubtful - MOST_LINES} more")
    rounds = ", ".join(map(repr, done.rounds))
    if done.dry_run:
        console.print(f"{done.rows} readings would go to {done.file}, of round {rounds}; "
                      "nothing was written")  # fmt: skip
        return
    made = f" (round {done.made_round!r} was made)" if done.made_round else ""
    console.print(f"{done.rows} readings written to {done.file}, of round {rounds}{made}")
    console.print("`hgmap check` says which of them are held, and why")
