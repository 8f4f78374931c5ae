"""Subcommands of the dashboard: one module each."""
