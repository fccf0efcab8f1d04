"""Tests of the shop book's tools, room by room."""
