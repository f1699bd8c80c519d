"""Notices to the maker: an outbox and the channels that empty it."""
