"""The deal: what to pay, what to build, what to ask, and what to answer.

Import from the modules of this room: ``plan_file`` (reading a build plan), ``paths`` (ways to go, side by side),
``most_to_pay``, ``field_table``, ``steps`` and ``subset`` (what each step is worth, and which to leave out),
``schedule``, ``drivers``, ``bands`` and ``selling`` (floor, target, ask), ``offers``.
"""
