"""What a medium says of itself: capacity, identity, partitions, traits.

Pure computation on bytes and numbers; this room imports no Django and no other room.
Intake, the bench and the stockroom call it; nothing here reads a device or writes anything.
"""
