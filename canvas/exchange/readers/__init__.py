"""Readers of foreign formats. They run in the child process only, under its limits."""
