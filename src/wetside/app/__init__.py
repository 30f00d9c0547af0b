"""Wires store to stages, one small module per stage. A face calls one function of this package."""
