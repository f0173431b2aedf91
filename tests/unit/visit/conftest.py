"""Stores for the tests of this folder."""

from stores import *  # noqa: F403
