"""The sale: floor, target and ask, what waiting is worth, and what to answer to an offer.

Import from the modules of this room: ``bands``, ``offers``, ``offer_log``, ``waiting`` (search theory),
``asking``, ``auction``.
"""
