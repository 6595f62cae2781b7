"""The dossier of a show: everything that is told of it, in one folder behind one page."""
