"""Clutches from laying to hatch day."""
