"""The tests of Scenebook; `python -m tests` sets up what they need and runs them."""
