"""Every camera's return, the programme, the wall and the studio from above, with tally, in one picture."""
