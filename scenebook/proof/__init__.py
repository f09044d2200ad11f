"""Receivers of MIDI bytes and the plain reading of scenes that they are held against; knows the model alone."""

from scenebook.proof.lists import CueFailure, Proof, SentCue, SentMessage
from scenebook.proof.proving import prove

__all__ = ["CueFailure", "Proof", "SentCue", "SentMessage", "prove"]
