"""The command line: thin, wording and unit choice for people."""
