"""What happens on the server: physics, rules of ageing, store, ingest, notices, API."""
