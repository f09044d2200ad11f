"""Tests of the room that keeps a library: the SQLite file and the folder of text files."""
