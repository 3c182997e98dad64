"""What numbers stand for: an id of one kind is not taken for one of another. All the way down, so that every room can
say which it means; nothing is here but the names."""

from typing import NewType

HouseholdId = NewType("HouseholdId", int)
EntryId = NewType("EntryId", int)
BatchId = NewType("BatchId", int)
"""The number of the entry that began it."""

HOUSE = BatchId(0)
"""Where something is about no batch, but about the house itself."""

ChatId = NewType("ChatId", int)
MessageId = NewType("MessageId", int)
"""As the chat service counts, in each chat."""

UpdateId = NewType("UpdateId", int)
LetterId = NewType("LetterId", int)
"""A letter's number in the outbox."""
