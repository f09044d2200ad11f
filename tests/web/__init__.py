"""Tests of the stand's pages and API."""
