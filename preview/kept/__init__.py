"""Pictures kept from run to run, found by a digest of everything that made them."""
