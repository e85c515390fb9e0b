"""Instruments: lines of a serial port or socket and dropped files as readings; nothing is sent to them."""

from sandlab.exchange.instruments.journal import Heard, Journal, LineState
from sandlab.exchange.instruments.listening import Listener
from sandlab.exchange.instruments.pattern import pattern_problems

__all__ = ["Heard", "Journal", "LineState", "Listener", "pattern_problems"]
