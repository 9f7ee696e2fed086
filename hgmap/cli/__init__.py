"""The command line: a file a group of commands, no logic."""
