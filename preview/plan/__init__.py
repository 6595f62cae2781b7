"""Plans of the studio from above: one moment of a show, or a floor map, as drawings and numbers."""
