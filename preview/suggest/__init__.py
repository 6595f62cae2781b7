"""Suggestions: shows, changed one key at a time, until a check has nothing left to say. One change a file.

A try is a new show: its file is changed, and everything starts again at the top with a new timeline.
Nothing of the show at hand is touched.
"""
