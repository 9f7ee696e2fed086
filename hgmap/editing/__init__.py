"""A site's files while somebody edits them: every edit is a function from files to files."""
