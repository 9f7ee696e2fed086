"""Bringing a drawing into the open site: looked at, its repairs refused or not, then one edit."""
