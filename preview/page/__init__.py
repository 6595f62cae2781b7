"""The review page: one folder that the whole crew opens from disk."""
