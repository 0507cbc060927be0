"""The `lagline` command, one module per verb family."""
