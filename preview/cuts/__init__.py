"""The report on a rundown's cuts: check, suggest, prove by drawing, write tables and film strips."""
