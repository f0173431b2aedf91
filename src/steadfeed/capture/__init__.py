"""Readings from outside: log files, system files, live sources."""
