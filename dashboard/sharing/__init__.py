"""Copies of logs for strangers: without place, names and serials, and a preview of what leaves."""
