"""One module for each question that a user asks: plain inputs in, one typed answer out, which every face only shows.

``paths``, ``steps`` and ``field`` (what to pay and what to do to it), ``bands`` and ``offer`` (what to ask and what to
answer), ``plan`` and ``build`` (what is behind each plan, and everything about a find), ``deal`` (the private sheet). ``given`` reads what a
question is asked with, and ``kept`` what the ledger keeps of a deal.
"""
