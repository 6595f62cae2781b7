"""The report on checks: look at a rundown, try remedies, and write tables, plots and outlined stills."""
