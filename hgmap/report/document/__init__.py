"""The report document: its content once, as plain parts, and a writer for each format."""
