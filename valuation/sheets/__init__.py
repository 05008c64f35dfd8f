"""Sheets: the paper for the buyer, the private paper, the card for the barn, and the workbook.

Import from the modules of this room: ``buyer`` and ``buyer_faces`` (the sheet for the buyer, built from the valuation
alone), ``deal_sheet`` (private, everything), ``field_card`` (one page to take along), ``workbook`` (XLSX), ``photos``,
``locale`` and ``records`` (what is kept to make a sheet again identically).
"""
