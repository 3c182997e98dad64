"""Bucketside: a chat bot with which a household makes wine from kits together."""
