"""How the lattice of LED pixels comes through lens and photosites: arrays only, no show and no pictures."""
