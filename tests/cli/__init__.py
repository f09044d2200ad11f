"""Tests of the command, in the test's own process."""
