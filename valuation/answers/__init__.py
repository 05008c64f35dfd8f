"""One module for each question that a user asks: plain inputs in, one typed answer out, which every face only shows.

``check``, ``estimate``, ``explain``, ``backtest`` and ``track_record`` (what a vehicle is worth, why, and how far to
trust that), ``paths``, ``steps`` and ``field`` (what to pay and what to do to it), ``bands`` and ``offer`` (what to ask
and what to answer), ``plan`` and ``build`` (what is behind each plan, and everything about a find). ``given`` reads
what a question is asked with, ``tables`` and ``intake`` hold a ledger's tables and take new ones; ``kept`` and
``kept_estimates`` keep the answers; ``vehicle_file`` holds all of one vehicle, and ``story`` tells its life.
"""
