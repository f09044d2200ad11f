"""Whole stories by the real command, each step a process of its own."""
