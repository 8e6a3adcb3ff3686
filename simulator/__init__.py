"""Invented engine controllers with physics: an independent witness that shares no code with the tool."""
