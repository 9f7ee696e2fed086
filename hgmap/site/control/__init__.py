"""Control points and deeds: how a building's own metres come to lie on a map."""
