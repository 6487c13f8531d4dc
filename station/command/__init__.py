"""The command line: one small file a command, and what they share."""
