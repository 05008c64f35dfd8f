"""Ways to go with a find: what goes in, what comes out, how sure that is, and the most to pay.

Import from the modules of this room: ``compare`` (paths side by side), ``most_to_pay``, ``field_table``, ``steps`` and
``subset`` (what each step is worth, and which to leave out), ``schedule``, ``drivers``, ``profit_curve``.
"""
