"""steadfeed: runs, guards and judges the challenge that shows whether a metering device really works."""

__version__ = "0.1.0"
