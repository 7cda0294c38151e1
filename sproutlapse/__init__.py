"""Seedlings measured from interval photos: what came up and when, what stretches, and the growth film."""

__version__ = "0.1.0"
