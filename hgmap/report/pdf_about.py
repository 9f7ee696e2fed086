"""What a PDF says of itself: title, author, the program; no date, so that bytes stay the same."""

from __future__ import annotations

from reportlab.pdfbase.pdfdoc import PDFDictionary, PDFInfo, PDFString


class About(PDFInfo):  # type: ignore[misc]
    """Title and author of a file; the author is left out where there is none."""

    def __init__(self, title: str, author: str) -> None:
        super().__init__()
        self.title, self.author = title, author

    def format(self, document: object) -> bytes:
        """Return the dictionary as it stands in the file."""
        about = {"Title": self.title, "Author": self.author, "Creator": "hgmap"}
        told = {name: PDFString(value) for name, value in about.items() if value}
        done: bytes = PDFDictionary(told).format(document)
        return done
