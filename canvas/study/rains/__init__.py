"""Rain on the land: a storm run over the designed ground, kept with the site, and read again."""
