"""The estimate: an array per floor, with its uncertainty."""
