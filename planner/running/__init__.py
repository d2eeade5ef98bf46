"""Bringing everything up and down: server and background worker, side by side, on one machine."""
