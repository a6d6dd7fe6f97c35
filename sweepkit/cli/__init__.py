"""The command line: one file per command, thin. ``main`` is the one place that decides exit codes."""
