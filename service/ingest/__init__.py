"""From the broker to the store: decode, check, commit, then acknowledge."""
