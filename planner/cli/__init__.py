"""Commands, printing, progress bars, files and exit codes."""
