"""A hand-driven clock, and craft books on it."""

import sqlite3

import pytest

from app.book import Book
from app.clocks import Clocks

NOVEMBER_2026 = 1_795_600_000.0


class HandClock:
    """Wall and monotonic clock that move only when a test moves them."""

    def __init__(self):
        self.wall, self.mono, self.boot = NOVEMBER_2026, 1000.0, "boot-1"

    def pass_by(self, seconds):
        self.wall += seconds
        self.mono += seconds

    def clocks(self):
        return Clocks(self.boot, lambda: self.wall, lambda: self.mono)


@pytest.fixture
def hand():
    return HandClock()


@pytest.fixture
def open_book(tmp_path, hand):
    """Opens the book of the test's data folder, as often as wanted; closes all at the end."""
    opened = []

    def build(data=tmp_path):
        book = Book.open(data, hand.clocks())
        opened.append(book)
        return book

    yield build
    for book in opened:
        book.close()


@pytest.fixture
def raw(tmp_path):
    """Plain SQLite on the book's file, past our own code."""
    connections = []

    def connect():
        connection = sqlite3.connect(tmp_path / "book" / "entries.sqlite", isolation_level=None)
        connection.row_factory = sqlite3.Row
        connections.append(connection)
        return connection

    yield connect
    for connection in connections:
        connection.close()
