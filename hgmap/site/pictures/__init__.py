"""Images of drawings: read without harm, made upright and grey or coloured, placed in metres."""
