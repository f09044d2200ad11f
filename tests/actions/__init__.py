"""Tests of what a player asks for."""
