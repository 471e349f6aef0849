"""Copies of fetched files in second places, made and read back in processes of their own, one for each place.

The daemon (`process.py`) keeps what is to be done in the log and hands it over file by file; all else here runs in the
process, and so does every library that reaches a place. The process keeps nothing: it may be killed at any moment.
"""
