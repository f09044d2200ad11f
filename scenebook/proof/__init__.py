"""Receivers of MIDI bytes and the plain reading of scenes that they are held against; knows the model alone."""

from scenebook.proof.lists import CueFailure, Proof, SentCue, SentMessage
from scenebook.proof.proving import Prover, prove

__all__ = ["CueFailure", "Proof", "Prover", "SentCue", "SentMessage", "prove"]
